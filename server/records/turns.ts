/** Long work that is written once, as a generator that pauses wherever it may, and is done at once or in turns with everybody else's. */

/** Some milliseconds of work lie between so many pauses. */
const PAUSES_a_turn = 200
const ITEMS_a_turn = 200

export function atOnce<Answer>(work: Generator<unknown, Answer>): Answer {
  for (;;) {
    const { done, value } = work.next()
    if (done) return value
  }
}

/** Whoever asks for a page meanwhile goes first. */
export async function inTurns<Answer>(work: Generator<unknown, Answer>): Promise<Answer> {
  for (let paused = 1; ; paused++) {
    const { done, value } = work.next()
    if (done) return value
    if (paused % PAUSES_a_turn === 0) await othersGoFirst()
  }
}

/** Of each of many items something is made, some at a time. */
export function eachInTurn<Item, Made>(items: readonly Item[], make: (item: Item) => Made): Promise<Made[]> {
  return someInTurn(items, (some) => some.map(make))
}

/** The same where it is made of some of them together. */
export async function someInTurn<Item, Made>(items: readonly Item[], make: (some: readonly Item[]) => readonly Made[]): Promise<Made[]> {
  const made: Made[] = []
  for (let from = 0; from < items.length; from += ITEMS_a_turn) {
    if (from > 0) await othersGoFirst()
    made.push(...make(items.slice(from, from + ITEMS_a_turn)))
  }
  return made
}

export function othersGoFirst(): Promise<void> {
  return new Promise((resolve) => setImmediate(resolve))
}
