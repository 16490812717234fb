/**
 * Text in the form it is compared in (UAX #15). Marks behind one letter are put in order by the square of their number: 160,000 of them take
 * five seconds, and a form may hold many more. So what is longer than anything that is kept is not looked at to its end.
 */
const MOST = 1000

export function plainForm(text: string, form: 'NFKC' | 'NFKD' = 'NFKC'): string {
  return text.slice(0, MOST).normalize(form)
}
