/** The two days asked for: the earlier first; left blank, the first recording and today. */
import { FormReader } from '../../web/form.ts'

export function readDays(
  query: unknown,
  given: { readonly today: string; readonly firstOn: string | null },
): { readonly form: FormReader; readonly from: string; readonly to: string } {
  const form = new FormReader(query)
  const { today } = given
  const first = form.typed('from').trim() === '' ? (given.firstOn ?? today) : form.date('from', { latest: today })
  const second = form.typed('to').trim() === '' ? today : form.date('to', { latest: today })
  // What is no day stands on the form as typed; nothing is compared then.
  if (form.faults.length > 0) return { form, from: today, to: today }
  return first <= second ? { form, from: first, to: second } : { form, from: second, to: first }
}
