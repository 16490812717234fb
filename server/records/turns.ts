/** Long work that is written once, as a generator that pauses wherever it may, and is done at once or in turns with everybody else's. */

/** Some milliseconds of work lie between so many pauses. */
const PAUSES_a_turn = 200

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

export function othersGoFirst(): Promise<void> {
  return new Promise((resolve) => setImmediate(resolve))
}
