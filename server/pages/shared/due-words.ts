/** How what is due comes round, in words. */
import type { Due } from '../../records/state.ts'
import { kilometres } from '../../web/format.ts'

/** "every year or 10 000 km"; nothing where it is due once. */
export function againWords(due: Pick<Due, 'every_months' | 'every_km'>): string {
  const months = due.every_months
  const parts = [
    months === undefined ? '' : months === 1 ? 'month' : months === 12 ? 'year' : `${months} months`,
    due.every_km === undefined ? '' : kilometres(due.every_km),
  ].filter((one) => one !== '')
  return parts.length === 0 ? '' : `every ${parts.join(' or ')}`
}
