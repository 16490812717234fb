/** The orders of lists, and how a place in one is written: so that a list goes on there, whatever became of what stood there. */
import { RANK } from '../engine/rules/check.ts'
import type { Finding } from '../records/engine-types.ts'
import { byNameThenId } from '../records/part-rows.ts'
import type { PlacedReading } from '../records/readings.ts'

/** What the order goes by, as words. */
export type Place = readonly string[]
/** The order of a list, in which no two things have the same place. */
export type Order<T> = {
  readonly placeOf: (item: T) => Place
  /** the words of a place, joined by `_`, one group for each */
  readonly looksLike: RegExp
  /** below zero where the first comes first */
  readonly compare: (one: Place, other: Place) => number
}
type Compare = (one: string, other: string) => number
const rising: Compare = (one, other) => (one < other ? -1 : one > other ? 1 : 0)
const falling: Compare = (one, other) => rising(other, one)

/** By the first word, of equals by the second, and so on. */
function inTurn(...all: readonly Compare[]): Order<unknown>['compare'] {
  return (one, other) => {
    for (const [n, compare] of all.entries()) {
      const found = compare(one[n] as string, other[n] as string)
      if (found !== 0) return found
    }
    return 0
  }
}

/** Pieces of expressions, to put places together from. */
const ID = '[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}'
const DAY_AND_ID = `(\\d{4}-\\d\\d-\\d\\d)_(${ID})`
const byId = (compare: Compare): Order<{ readonly id: string }> => ({
  placeOf: ({ id }) => [id],
  looksLike: new RegExp(`^(${ID})$`),
  compare: inTurn(compare),
})
export const earliestMade = byId(rising)
export const latestMade = byId(falling)
/** The journal's order turned round: every version of an entry has the place of its first. */
export const latestFirst: Order<{ readonly effectiveOn: string; readonly placeId: string }> = {
  placeOf: ({ effectiveOn, placeId }) => [effectiveOn, placeId],
  looksLike: new RegExp(`^${DAY_AND_ID}$`),
  compare: inTurn(falling, falling),
}

const numbers = (one: string, other: string) => (Number(one) === Number(other) ? 0 : Number(one) < Number(other) ? -1 : 1)
const graver = (one: string, other: string) => RANK[other as Finding['verdict']] - RANK[one as Finding['verdict']]
/** As the check puts them: a limit that any value passes counts as used without end, what has no figure as not used at all. */
export const worstFirst: Order<Finding> = {
  placeOf: ({ verdict, used, rule, component }) => [
    verdict,
    String(used ?? (verdict === 'over' ? Number.POSITIVE_INFINITY : -1)),
    rule,
    component,
  ],
  looksLike: /^(over|tight|unknown|clear)_(Infinity|-?\d+(?:\.\d+)?(?:e[+-]?\d+)?)_([a-z0-9-]+)_(.+)$/,
  compare: inTurn(graver, (one, other) => numbers(other, one), rising, rising),
}
export const latestReading: Order<PlacedReading> = {
  placeOf: (reading) => [...latestFirst.placeOf(reading), String(reading.position)],
  looksLike: new RegExp(`^${DAY_AND_ID}_(\\d{1,4})$`),
  compare: inTurn(falling, falling, numbers),
}

/** As the records list them. A name may hold anything, so it ends where the id begins. */
export const byName: Order<{ readonly id: string; readonly name: string }> = {
  placeOf: ({ name, id }) => [name, id],
  looksLike: new RegExp(`^(.+)_(${ID})$`, 's'),
  compare: (one, other) => byNameThenId(namedPlace(one), namedPlace(other)),
}
const namedPlace = ([name = '', id = '']: readonly string[]) => ({ name, id })
