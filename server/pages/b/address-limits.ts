/**
 * How often one address may ask for what a token opens. Wrong tokens are counted apart and sooner too many; past either count every answer
 * to that address is the same, whatever it asks for, so that the limit tells nothing. Kept in memory: a restart forgives.
 */
import { networkOf } from '../../records/sign-in-limits.ts'

const WINDOW_ms = 15 * 60_000
const MOST_ADDRESSES = 20_000

type Counted = { readonly since_ms: number; readonly asked: number; readonly missed: number }

export class AddressLimits {
  readonly #counts = new Map<string, Counted>()
  readonly #now: () => Date
  readonly #most: { readonly asked: number; readonly missed: number }

  constructor(now: () => Date, most: { readonly asked: number; readonly missed: number }) {
    this.#now = now
    this.#most = most
  }

  /** Counts a question; false where the address has asked too often. */
  mayAsk(address: string): boolean {
    const { asked, missed } = this.#of(address)
    if (asked >= this.#most.asked || missed >= this.#most.missed) return false
    this.#set(address, { asked: 1, missed: 0 })
    return true
  }

  missed(address: string): void {
    this.#set(address, { asked: 0, missed: 1 })
  }

  #set(address: string, more: { readonly asked: number; readonly missed: number }): void {
    const { since_ms, asked, missed } = this.#of(address)
    const key = networkOf(address)
    if (this.#counts.size >= MOST_ADDRESSES && !this.#counts.has(key)) this.#counts.delete(this.#counts.keys().next().value as string)
    this.#counts.set(key, { since_ms, asked: asked + more.asked, missed: missed + more.missed })
  }

  /** A clock that was set back begins anew. */
  #of(address: string): Counted {
    const now_ms = this.#now().getTime()
    const known = this.#counts.get(networkOf(address))
    if (known && known.since_ms <= now_ms && now_ms - known.since_ms < WINDOW_ms) return known
    return { since_ms: now_ms, asked: 0, missed: 0 }
  }
}
