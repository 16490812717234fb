/** A sum with the household's own currency behind it, where it has set one. */
import { money } from '../../web/format.ts'

export function moneyWords(minor: number, currency: string): string {
  return currency === '' ? money(minor) : `${money(minor)} ${currency}`
}
