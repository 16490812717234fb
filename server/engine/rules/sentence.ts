/** The one plain sentence of a finding. */
import type { Verdict } from '../report.ts'
import { figure } from './figure.ts'
import type { Reading } from './rule.ts'

/** "Lamp fuse carries 12 A of its 15 A rating (lamps on)." `condition` null: the same in every condition. */
export function sentence(given: {
  readonly condition: string | null
  readonly reading: Reading
  readonly verdict: Verdict
  readonly missing: readonly string[]
}): string {
  const { condition, reading, verdict, missing } = given
  if (reading.statement !== undefined) return reading.statement
  const open = missing.join(', ')
  const when = condition === null ? '' : ` (${condition})`
  if (reading.value === null) return `${reading.subject} an unknown ${UNKNOWN[reading.unit] ?? 'figure'}: ${open} not known.`
  // What falls as current rises is then at most so much.
  const bound = (reading.atLeastBecause ?? []).length === 0 ? '' : reading.sense === 'at-least' ? 'at most ' : 'at least '
  const value = `${bound}${figure(reading.value, reading.unit)}`
  if (reading.limit === null) return `${reading.subject} ${value}; not known: ${open}${when}.`
  const limit = figure(reading.limit, reading.unit)
  const against =
    reading.sense === 'at-least' ? `against a ${reading.limitIs ?? 'limit'} of ${limit}` : `of its ${limit} ${reading.limitIs ?? 'limit'}`
  const rest = verdict === 'unknown' && missing.length > 0 ? ` Not known: ${open}.` : ''
  return `${reading.subject} ${value} ${against}${when}.${rest}`
}

const UNKNOWN: Readonly<Record<string, string>> = {
  V: 'voltage',
  A: 'current',
  h: 'time',
  s: 'time',
  m: 'length',
  'mm²': 'cross-section',
  'A²s': 'amount',
}
