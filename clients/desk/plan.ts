// The run on the plan at the desk: a door of its own, so that the desk fetches it only where a stage is known.
export { FoldedPlan } from '../ui/plan-fold';
