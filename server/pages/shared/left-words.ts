/** "sold on 20 November 2026 to Robin" for a vehicle that has left; else nothing. */
import type { Left } from '../../records/facts.ts'
import { dateWords } from '../../web/format.ts'

export function leftWords(left: Left | null): string {
  return left === null ? '' : `${left.how} on ${dateWords(left.on)}${left.to === '' ? '' : ` to ${left.to}`}`
}
