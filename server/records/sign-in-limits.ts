/**
 * How often a name or an address may guess. Both are counted, and a device that has signed in before is counted by itself, so that guessing
 * from elsewhere never locks a household out. Kept in memory: a restart forgives.
 */
import { isIPv6 } from 'node:net'
import type { Clock } from './clock.ts'

const WINDOW_ms = 15 * 60_000
const MOST = { account: 10, address: 20, device: 20 } as const
const MOST_KEYS = 20_000

export type Attempt = { readonly account: string; readonly address: string; readonly device: string | null }

export class SignInLimits {
  readonly #failures = new Map<string, number[]>()
  readonly #clock: Clock

  constructor(clock: Clock) {
    this.#clock = clock
  }

  /** Seconds until this may be tried again; 0 where it may be now. */
  waits_s(attempt: Attempt): number {
    return Math.max(0, ...bucketsOf(attempt).map(({ key, most }) => this.#wait_s(key, most)))
  }

  /**
   * Counts a try before it is looked at, so that a hundred at the same moment are a hundred. Answers as `waits_s`: only at 0 was it
   * counted and may go on; `succeeded` then takes it back.
   */
  begin_s(attempt: Attempt): number {
    const waits_s = this.waits_s(attempt)
    if (waits_s > 0) return waits_s
    const now = this.#clock.now().getTime()
    for (const { key } of bucketsOf(attempt)) {
      if (this.#failures.size >= MOST_KEYS && !this.#failures.has(key)) this.#forget(now)
      this.#failures.set(key, [...this.#recent(key, now), now])
    }
    return 0
  }

  /** A right password clears the count of what it was given from and for; of the address, which may be guessing at others, this try only. */
  succeeded(attempt: Attempt): void {
    for (const { key } of bucketsOf(attempt))
      if (key.startsWith('address ')) this.#failures.set(key, (this.#failures.get(key) ?? []).slice(0, -1))
      else this.#failures.delete(key)
  }

  #wait_s(key: string, most: number): number {
    const now = this.#clock.now().getTime()
    const recent = this.#recent(key, now)
    const first = recent[recent.length - most]
    return first === undefined ? 0 : Math.ceil((first + WINDOW_ms - now) / 1000)
  }

  /** A clock that was set back leaves nothing in the future. */
  #recent(key: string, now: number): readonly number[] {
    return (this.#failures.get(key) ?? []).filter((at) => at <= now && now - at < WINDOW_ms)
  }

  #forget(now: number): void {
    for (const key of this.#failures.keys()) if (this.#recent(key, now).length === 0) this.#failures.delete(key)
    for (const key of this.#failures.keys()) {
      if (this.#failures.size < MOST_KEYS) return
      this.#failures.delete(key)
    }
  }
}

/** A subscriber's whole IPv6 network (/64, RFC 4291 2.5.4) counts as one address: who has one has all of it. */
export function networkOf(address: string): string {
  if (!isIPv6(address)) return address
  const mapped = /^::ffff:(\d+\.\d+\.\d+\.\d+)$/i.exec(address)
  if (mapped) return mapped[1] as string
  const [head = '', tail = ''] = (address.split('%')[0] as string).toLowerCase().split('::')
  const [first, last] = [head, tail].map((half) => half.split(':').filter((group) => group !== ''))
  const missing = address.includes('::') ? 8 - (first?.length ?? 0) - (last?.length ?? 0) : 0
  const groups = [...(first ?? []), ...Array.from({ length: Math.max(0, missing) }, () => '0'), ...(last ?? [])]
  return groups
    .slice(0, 4)
    .map((group) => group.replace(/^0+(?=.)/, ''))
    .join(':')
}

function bucketsOf(attempt: Attempt): readonly { readonly key: string; readonly most: number }[] {
  if (attempt.device !== null) return [{ key: `device ${attempt.device}`, most: MOST.device }]
  return [
    { key: `account ${attempt.account}`, most: MOST.account },
    { key: `address ${networkOf(attempt.address)}`, most: MOST.address },
  ]
}
