/**
 * What a passkey signs, and what a button carries whose press leads to a provider: made for one purpose and one visitor, good for a few
 * minutes and once. Nothing is kept of those that are never answered, so that nobody can fill the memory by asking; a restart ends those
 * that are open.
 */
import { createHmac, randomBytes, timingSafeEqual } from 'node:crypto'
import type { Clock } from './clock.ts'

const GOOD_FOR_ms = 5 * 60_000
const RANDOM_bytes = 24
const TIME_bytes = 6

export type ChallengeFor = { readonly purpose: 'register' | 'sign-in' | 'second-step' | 'provider' | 'connect'; readonly visitor: string }

export class Challenges {
  readonly #key = randomBytes(32)
  readonly #taken = new Map<string, number>()
  readonly #clock: Clock

  constructor(clock: Clock) {
    this.#clock = clock
  }

  make(given: ChallengeFor): Uint8Array<ArrayBuffer> {
    const open = Buffer.alloc(RANDOM_bytes + TIME_bytes)
    randomBytes(RANDOM_bytes).copy(open)
    open.writeUIntBE(this.#clock.now().getTime(), RANDOM_bytes, TIME_bytes)
    return new Uint8Array([...open, ...this.#seal(open, given)])
  }

  /** Whether this (base64url) was made here for just that, not long ago, and was not taken before. */
  take(challenge: string, given: ChallengeFor): boolean {
    const bytes = Buffer.from(challenge, 'base64url')
    const open = bytes.subarray(0, RANDOM_bytes + TIME_bytes)
    const seal = bytes.subarray(RANDOM_bytes + TIME_bytes)
    const right = this.#seal(open, given)
    if (open.length !== RANDOM_bytes + TIME_bytes || seal.length !== right.length || !timingSafeEqual(seal, right)) return false
    const now = this.#clock.now().getTime()
    const age_ms = now - open.readUIntBE(RANDOM_bytes, TIME_bytes)
    if (age_ms < 0 || age_ms > GOOD_FOR_ms || this.#taken.has(challenge)) return false
    for (const [old, at] of this.#taken) if (Math.abs(now - at) > GOOD_FOR_ms) this.#taken.delete(old)
    this.#taken.set(challenge, now)
    return true
  }

  #seal(open: Uint8Array, given: ChallengeFor): Buffer {
    return createHmac('sha256', this.#key)
      .update(JSON.stringify([given.purpose, given.visitor]))
      .update(open)
      .digest()
  }
}
