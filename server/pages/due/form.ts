/** The form of one thing due, read into its change; faults stay in the reader. */
import type { Change } from '../../records/contract.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'

type DueSet = Extract<Change, { kind: 'due-set' }>

export function readDue(form: FormReader, given: { readonly state: State; readonly today: string }): DueSet {
  const what = form.text('what', { max: 500, required: 'What is to be looked at?' })
  const component = form.text('component', { max: 80 })
  if (component !== '' && !given.state.components.has(component)) form.fault('component', 'There is no such component in this vehicle now.')
  const on = form.typed('on').trim() === '' ? null : form.date('on', { latest: '2199-12-31' })
  const odometer_km = form.number('odometer', { min: 0, max: 9_999_999 })
  if (on === null && odometer_km === null && form.faults.length === 0)
    form.fault('on', 'Say when: a day, a reading of the odometer, or both.')
  const every_months = form.number('every_months', { min: 1, max: 600, whole: true })
  const every_km = form.number('every_km', { min: 1, max: 1_000_000, whole: true })
  return {
    kind: 'due-set',
    key: keyOf(form, given),
    ...(component === '' ? {} : { component }),
    what,
    ...(on === null ? {} : { on }),
    ...(odometer_km === null ? {} : { odometer_km }),
    ...(every_months === null ? {} : { every_months }),
    ...(every_km === null ? {} : { every_km }),
  }
}

/** That of the thing changed or offered, or the first that is free. */
function keyOf(form: FormReader, given: { readonly state: State; readonly today: string }): string {
  const typed = form.typed('key')
  if (/^[a-z0-9][a-z0-9-]{0,79}$/.test(typed)) return typed
  for (let n = 1; ; n += 1) if (!given.state.due.has(`due-${given.today}-${n}`)) return `due-${given.today}-${n}`
}
