let count = 0;

/** A fresh number for each drag or visit of a control, so that what is moved within it is one step of undo. */
export function nextGesture(): number {
  count++;
  return count;
}
