// The plan of one's own part: a door of its own, so that pages which carry the plan themselves are not made for two ways in.
export { ScrubFloor } from './plan-scrub';
