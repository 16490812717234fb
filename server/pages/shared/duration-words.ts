/** How long something lasted, in the largest unit of which there are two or more. */
import { daysFrom } from '../../records/days.ts'

export function durationWords(given: { readonly from: string; readonly to: string }): string {
  const days = daysFrom(given)
  if (days >= 730) return `${Math.floor(days / 365.25)} years`
  if (days >= 61) return `${Math.floor(days / 30.4375)} months`
  return days === 1 ? '1 day' : `${days} days`
}
