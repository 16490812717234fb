/**
 * How often one address may ask for what a token opens. Wrong tokens are counted apart and sooner too many; past either count every answer
 * to that address is the same, whatever it asks for, so that the limit tells nothing. Kept in memory: a restart forgives.
 */
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
    const key = network(address)
    if (this.#counts.size >= MOST_ADDRESSES && !this.#counts.has(key)) this.#counts.delete(this.#counts.keys().next().value as string)
    this.#counts.set(key, { since_ms, asked: asked + more.asked, missed: missed + more.missed })
  }

  /** A clock that was set back begins anew. */
  #of(address: string): Counted {
    const now_ms = this.#now().getTime()
    const known = this.#counts.get(network(address))
    if (known && known.since_ms <= now_ms && now_ms - known.since_ms < WINDOW_ms) return known
    return { since_ms: now_ms, asked: 0, missed: 0 }
  }
}

/** Of an IPv6 address the 64 bits that one subscriber is given (RFC 6177 speaks of a site's many; common practice counts one such network). */
function network(address: string): string {
  if (!address.includes(':') || /^::ffff:\d+\./i.test(address)) return address
  const [head = '', tail] = address.toLowerCase().split('%')[0]?.split('::') ?? []
  const first = head === '' ? [] : head.split(':')
  const last = tail === undefined || tail === '' ? [] : tail.split(':')
  const whole = tail === undefined ? first : [...first, ...Array<string>(Math.max(0, 8 - first.length - last.length)).fill('0'), ...last]
  return whole.slice(0, 4).join(':')
}
