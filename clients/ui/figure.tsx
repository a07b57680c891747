// The picture of a move, as the server draws it: from the side of whoever reads, their own part in their own colour.
import { useEffect } from 'preact/hooks';
import type { MoveView, Part, PictureView, RunSheet } from '../core/wire';
import { pictureOf, wantPictures } from './pictures';

interface Props {
  /** The run, or the fight that is read. */
  sheet: RunSheet | null;
  move: MoveView;
  part?: Part;
  /** For small sizes: only what matters of it, so much larger. */
  near?: boolean;
}

/** The picture of a move; nothing where it has none, and until it is here. */
export function Figure({ sheet, move, part = 'watch', near = false }: Props) {
  const set = sheet?.pictures ?? null;
  useEffect(() => wantPictures(set), [set]);
  const picture = pictureOf(set, move.picture);
  return picture === null ? null : <Drawing picture={picture} part={part} near={near} />;
}

/** A picture from the side of whoever reads: of who acts, of who answers, or of who looks on. */
export function Drawing(props: { picture: PictureView; part?: Part; near?: boolean }) {
  const { picture, part = 'watch', near = false } = props;
  const [whole, box] = part === 'answer' ? [picture.partner, picture.partner_near] : [picture.doer, picture.doer_near];
  const drawn = near ? whole.replace('viewBox="0 0 120 120"', `viewBox="${box}"`) : whole;
  // What is drawn comes from our own server, which writes it from numbers and escapes its title.
  return <div class="picture" lang="en" data-part={part} dangerouslySetInnerHTML={{ __html: drawn }} />;
}
