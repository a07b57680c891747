// The file for home for everybody: fetched when it is opened.
import { fetchHome } from '../part/fetch-home';
import { TakeHome } from '../part/take-home';

/** The file of the whole cast. */
export function TakeHomeAll({ personalKey }: { personalKey: string }) {
  return <TakeHome takeHome={(part) => fetchHome(personalKey, part)} part={null} />;
}
