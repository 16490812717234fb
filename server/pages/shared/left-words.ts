/** "sold on 20 November 2026 to Robin" for a vehicle that has left; else nothing. */
import type { State } from '../../records/state.ts'
import { dateWords } from '../../web/format.ts'

export function leftWords(state: State): string {
  const { leftOn, leftHow, leftTo } = state.vehicle
  if (typeof leftOn !== 'string') return ''
  return `${String(leftHow)} on ${dateWords(leftOn)}${leftTo ? ` to ${String(leftTo)}` : ''}`
}
