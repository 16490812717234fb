/** Parts offered on a form while one types: few of them, the likeliest first, counted and cut off in SQL so that a full shelf stays quick. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import type { Ratings } from './engine-types.ts'
import { EVER_STOCKED } from './stock.ts'

export type PartChoice = {
  readonly id: string
  readonly kind: string
  readonly name: string
  readonly ratings: Ratings
  readonly inStock: number
  readonly place: string
}
export type PartChoices = { readonly found: readonly PartChoice[]; readonly more: boolean }

/**
 * Parts with every word of `words` in their name, their place or, for a figure, among their ratings. Those of `kind` come first,
 * then those in stock, then by name. Where no words are given, only that kind; with no kind
 * either, only what is in stock. `picked` is offered in any case, and first.
 */
export function partChoices(
  db: Db,
  actor: Actor,
  given: { readonly words: string; readonly kind: string; readonly picked: string; readonly limit: number },
): PartChoices {
  const words = given.words.toLowerCase().split(/\s+/).filter(Boolean).slice(0, 6)
  const sought = words.map((word, n) => {
    const figure = /^\d+([.,]\d+)?(?=[a-z]{0,3}$)/.exec(word)?.[0].replace(',', '.')
    // Looked for as text first: to take every part's figures apart is slow.
    const rated =
      figure === undefined
        ? ''
        : ` OR (instr(r.ratings, @text${n}) > 0 AND EXISTS (SELECT 1 FROM json_each(r.ratings) WHERE value = CAST(@figure${n} AS REAL)))`
    const binds: Record<string, string> = { [`word${n}`]: word }
    if (figure !== undefined) Object.assign(binds, { [`figure${n}`]: figure, [`text${n}`]: String(Number(figure)) })
    return {
      sql: `AND (instr(lower(r.name), @word${n}) > 0 OR (p.id IN (${everAt(n)}) AND instr(lower(coalesce(${placeOf('p.id')}, '')), @word${n}) > 0)${rated})`,
      binds,
    }
  })
  // What is on the shelf is counted once for all, and places are read of those alone that are offered.
  const sql = (
    which: string,
  ) => `WITH stocked AS MATERIALIZED (SELECT e.part_id AS id, ${inStockOf('e.part_id')} AS n FROM (${EVER_STOCKED}) e)
    SELECT found.*, coalesce(${placeOf('found.id')}, '') AS place FROM (
      SELECT p.id, p.kind, r.name, r.ratings, coalesce(s.n, 0) AS inStock
      FROM parts p JOIN part_revisions r ON r.rowid = (SELECT max(rowid) FROM part_revisions WHERE part_id = p.id) LEFT JOIN stocked s ON s.id = p.id
      WHERE p.household_id = @household AND ${which}
      ORDER BY inStock > 0 DESC, r.name COLLATE NOCASE, p.id LIMIT @most) found
    ORDER BY found.inStock > 0 DESC, found.name COLLATE NOCASE, found.id`
  const binds = Object.assign({ household: actor.householdId, picked: given.picked, kind: given.kind }, ...sought.map((one) => one.binds))
  const stocked = words.length === 0 && given.kind === '' ? 'AND s.n > 0 ' : ''
  const matching = `p.id <> @picked ${stocked}${sought.map((one) => one.sql).join(' ')}`
  const found: Row[] = []
  // Of the kind that is wanted there are mostly enough: then the others are not looked at.
  const others = words.length === 0 && given.kind !== '' ? [] : [`p.kind <> @kind AND ${matching}`]
  for (const which of ['p.id = @picked', `p.kind = @kind AND ${matching}`, ...others]) {
    const most = given.limit + 1 - found.length
    if (most > 0) found.push(...(db.$client.prepare(sql(which)).all({ ...binds, most }) as Row[]))
  }
  return {
    found: found.slice(0, given.limit).map((row) => ({ ...row, ratings: JSON.parse(row.ratings) as Ratings })),
    more: found.length > given.limit,
  }
}

type Row = Omit<PartChoice, 'ratings'> & { readonly ratings: string }
const placeOf = (part: string) => `(SELECT place FROM stock_counts WHERE part_id = ${part} ORDER BY id DESC LIMIT 1)`
/** Parts that lay at such a place at any time. */
const everAt = (n: number) => `SELECT part_id FROM stock_counts WHERE household_id = @household AND instr(lower(place), @word${n}) > 0`

/**
 * As `stocksOf` counts. Never below none on the way: what is left is the largest sum of the latest moves, the last count being the first of
 * them. An entry counts by its first version: a word corrected after the count takes nothing from the shelf again.
 */
const inStockOf = (part: string) => `(SELECT max(0, max(sum)) FROM (SELECT sum(n) OVER (ORDER BY id DESC) AS sum FROM (
  SELECT id, count AS n FROM stock_counts WHERE id = (SELECT max(id) FROM stock_counts WHERE part_id = ${part})
  UNION ALL SELECT id, count FROM purchases WHERE part_id = ${part} AND id > ${lastCountOf(part)}
  UNION ALL SELECT m.id, m.by_count FROM stock_moves m JOIN entries e ON e.id = m.entry_id WHERE m.part_id = ${part}
    AND e.place_id > ${lastCountOf(part)}
    AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = m.entry_id AND (c.correction = 'replaced'
      OR NOT EXISTS (SELECT 1 FROM entries cc WHERE cc.corrects_id = c.id AND cc.correction = 'withdrawn'))))))`

const lastCountOf = (part: string) => `coalesce((SELECT max(id) FROM stock_counts WHERE part_id = ${part}), '')`
