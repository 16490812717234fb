/** What was asked for lately, kept in memory up to a bound; what has not been asked for the longest goes first. */
export class Lately<Value> {
  readonly #kept = new Map<string, { readonly value: Value; readonly weight: number }>()
  readonly #most: number
  #weight = 0

  /** `most`: the weight of all that is kept, in whatever the caller weighs by. */
  constructor(most: number) {
    this.#most = most
  }

  get(key: string): Value | undefined {
    const found = this.#kept.get(key)
    if (!found) return undefined
    this.#kept.delete(key)
    this.#kept.set(key, found)
    return found.value
  }

  /** The newest is kept even where it alone is past the bound: it has just been asked for. */
  set(key: string, value: Value, weight: number): void {
    this.#weight += weight - (this.#kept.get(key)?.weight ?? 0)
    this.#kept.delete(key)
    this.#kept.set(key, { value, weight })
    for (const [oldest, { weight: freed }] of this.#kept) {
      if (this.#weight <= this.#most || this.#kept.size === 1) return
      this.#kept.delete(oldest)
      this.#weight -= freed
    }
  }

  get weight(): number {
    return this.#weight
  }

  get size(): number {
    return this.#kept.size
  }
}
