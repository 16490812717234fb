/**
 * How much of what nobody here did is kept: whoever has no account can be refused as often as they like, and each refusal would be a row
 * and a wait for the disk. Counted in memory: a restart forgives.
 */
import { networkOf } from './sign-in-limits.ts'

const WINDOW_ms = 15 * 60_000
const MOST = { fromOne: 60, inAll: 1000 } as const

/** `last`: this one, and no more from there for a while. */
export type MayKeep = 'yes' | 'last' | 'no'

export class SecurityBounds {
  readonly #counts = new Map<string, number>()
  #since_ms = 0
  #inAll = 0

  count(address: string, now_ms: number): MayKeep {
    // A clock that was set back begins anew.
    if (now_ms < this.#since_ms || now_ms - this.#since_ms >= WINDOW_ms) {
      this.#counts.clear()
      this.#since_ms = now_ms
      this.#inAll = 0
    }
    const from = networkOf(address)
    const before = this.#counts.get(from) ?? 0
    if (before >= MOST.fromOne || this.#inAll >= MOST.inAll) return 'no'
    this.#counts.set(from, before + 1)
    this.#inAll += 1
    return before + 1 === MOST.fromOne || this.#inAll === MOST.inAll ? 'last' : 'yes'
  }
}
