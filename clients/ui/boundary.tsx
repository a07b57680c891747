// A fault in drawing stays in the drawn part: it is said, and HOLD, link and clock go on.
import { Component, type ComponentChildren } from 'preact';
import { sayFault } from '../core/page';

/** Catches what its children throw. */
export class Boundary extends Component<{ children: ComponentChildren }, { failed: boolean }> {
  override state = { failed: false };

  override componentDidCatch(fault: unknown): void {
    console.error(fault);
    sayFault();
    this.setState({ failed: true });
  }

  override render() {
    return this.state.failed ? null : this.props.children;
  }
}
