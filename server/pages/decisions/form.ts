/** The form of a decision, read into its change; faults stay in the reader. */
import type { Change, Considered } from '../../records/contract.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'

/** Things considered that are on no shelf: so many rows in words. */
export const IN_WORDS = 2

export function readDecision(
  form: FormReader,
  given: { readonly parts: readonly { readonly id: string }[]; readonly state: State },
): Extract<Change, { kind: 'decided' }> {
  const chosen = form.text('chosen', { max: 80 })
  if (chosen !== '' && !given.parts.some((part) => part.id === chosen)) form.fault('chosen', 'There is no such part on the shelf.')
  const component = form.text('component', { max: 80 })
  if (component !== '' && !given.state.components.has(component)) form.fault('component', 'There is no such component in this vehicle now.')
  const why = form.text('why', { max: 5000, required: 'Why was it decided so?' })
  const considered: Considered[] = given.parts
    .filter((part) => part.id !== chosen && form.typed('considered').split(' ').includes(part.id))
    .map((part) => ({ part: part.id, whyNot: form.text(`not-${part.id}`, { max: 1000 }) }))
  for (let n = 0; n < IN_WORDS; n += 1) {
    const words = form.text(`words-${n}`, { max: 200 })
    const whyNot = form.text(`words-not-${n}`, { max: 1000 })
    if (words !== '') considered.push({ words, whyNot })
    else if (whyNot !== '') form.fault(`words-${n}`, 'What was it that was not chosen?')
  }
  return {
    kind: 'decided',
    ...(component === '' ? {} : { component }),
    ...(chosen === '' ? {} : { chosen }),
    considered: considered.slice(0, 12),
    why,
  }
}
