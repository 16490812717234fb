/** Other ids for all records of an archive, where some record of the same id is here and differs. */
import { createHash } from 'node:crypto'
import type { Tables } from './archive-check.ts'
import type { ArchiveTable, Row } from './archive-tables.ts'

export type NewIds = ReadonlyMap<string, string>

/**
 * Made from the old ids and the household alone: the same archive taken in again gets the same ones, and is seen to be here. Their times
 * stay, so that what came later still sorts later; of two with the same time and count the ends are dealt out in their order.
 */
export function otherIds(tables: Tables, given: { readonly householdId: string; readonly attempt: number }): NewIds {
  const old = new Set<string>()
  for (const [table, rows] of tables) if (table.key[0] === 'id') for (const row of rows) old.add(String(row.id))
  const found = new Map<string, string>()
  let group: string[] = []
  const deal = () => {
    const ends = group.map((id) => endOf(id, given)).sort()
    for (const [at, id] of group.entries()) found.set(id, `${id.slice(0, TIME_letters)}${ends[at]}`)
    group = []
  }
  for (const id of [...old].sort()) {
    if (group.length > 0 && group[0]?.slice(0, TIME_letters) !== id.slice(0, TIME_letters)) deal()
    group.push(id)
  }
  deal()
  return found
}

/** The record under its other id, with every id in it, also in what is kept as JSON. */
export function renamed(table: ArchiveTable, row: Row, ids: NewIds | null): Row {
  if (ids === null || table.key[0] !== 'id') return row
  const anew = (value: unknown): unknown => {
    if (typeof value === 'string') return ids.get(value) ?? value
    if (Array.isArray(value)) return value.map(anew)
    if (typeof value !== 'object' || value === null) return value
    return Object.fromEntries(Object.entries(value).map(([name, inner]) => [name, anew(inner)]))
  }
  return { ...(anew(row) as Row), ...('once_key' in row ? { once_key: null } : {}) }
}

/** Of a UUID of version 7: time, version and count, with their hyphens (RFC 9562, 5.7). */
const TIME_letters = 19

function endOf(id: string, given: { readonly householdId: string; readonly attempt: number }): string {
  const hex = createHash('sha256').update(`${given.householdId} ${given.attempt} ${id}`).digest('hex')
  const variant = ((Number.parseInt(hex.slice(0, 1), 16) & 3) | 8).toString(16)
  return `${variant}${hex.slice(1, 4)}-${hex.slice(4, 16)}`
}
