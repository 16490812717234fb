/** Which numbers have been joined together: union–find. Knows no electricity. */

/** Sets of the numbers below `size`; the least of a set stands for it, so the order of joining changes nothing. */
export class Union {
  readonly up: Int32Array
  constructor(size: number) {
    this.up = new Int32Array(size)
    for (let n = 0; n < size; n++) this.up[n] = n
  }
  find(n: number): number {
    let at = n
    while (this.up[at] !== at) {
      this.up[at] = this.up[this.up[at] as number] as number
      at = this.up[at] as number
    }
    return at
  }
  join(a: number, b: number): void {
    const [x, y] = [this.find(a), this.find(b)]
    if (x !== y) this.up[Math.max(x, y)] = Math.min(x, y)
  }
}
