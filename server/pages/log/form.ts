/** The log form, read into an entry; faults stay in the reader. */
import type { Change, Fate, NewEntry } from '../../records/contract.ts'
import type { StoredPart } from '../../records/parts.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'

export const verbs = ['swapped', 'fitted', 'removed', 'rerouted', 'measured', 'serviced', 'noted'] as const
export const fates: readonly Fate[] = ['shelf', 'bin', 'failed', 'not said']
type Verb = (typeof verbs)[number]

export function readLog(
  form: FormReader,
  given: {
    readonly vehicle: { readonly id: string; readonly odometer_km: number | null }
    readonly state: State
    readonly parts: readonly StoredPart[]
    readonly today: string
  },
): NewEntry {
  const verb = form.choice<Verb>('verb', verbs, 'noted')
  const effectiveOn = form.date('on', { latest: given.today })
  const odometer_km = form.number('odometer', { min: 0, max: 9_999_999 })
  const last = given.vehicle.odometer_km
  if (odometer_km !== null && last !== null && odometer_km < last && effectiveOn === given.today && form.typed('lower') !== 'yes')
    form.fault('odometer', `The last reading was ${last} km. If the lower figure is right, tick the box under it.`)
  const cost = form.number('cost', { min: 0, max: 10_000_000 })
  const text = form.text('text', { max: 20_000 })
  const changes = readChanges(form, verb, { ...given, text })
  const component = given.state.components.get(form.typed('component'))?.name ?? form.typed('name')
  const part = given.parts.find((one) => one.id === form.typed('part'))?.name ?? ''
  return {
    vehicleId: given.vehicle.id,
    effectiveOn,
    title: form.text('title', { max: 200 }) || titleOf(verb, component, part),
    text,
    ...(odometer_km === null ? {} : { odometer_km }),
    ...(cost === null ? {} : { cost_minor: Math.round(cost * 100) }),
    changes,
    ...(form.typed('once') === '' ? {} : { onceKey: form.typed('once').slice(0, 100) }),
  }
}

function readChanges(
  form: FormReader,
  verb: Verb,
  given: { readonly state: State; readonly parts: readonly StoredPart[]; readonly text: string },
): readonly Change[] {
  const component = form.text('component', { max: 80 })
  const known = component !== '' && given.state.components.has(component)
  if (component !== '' && !known) form.fault('component', 'There is no such component in this vehicle.')
  const needs = () => known || form.fault('component', 'Which component?') !== null
  const fate = form.choice<Fate>('fate', fates, 'not said')
  const part = form.text('part', { max: 80 })
  if (part !== '' && !given.parts.some((one) => one.id === part)) form.fault('part', 'There is no such part on the shelf.')
  switch (verb) {
    case 'swapped': {
      needs()
      if (part === '') form.fault('part', 'Which part is in its place now?')
      return known && part !== '' ? [{ kind: 'swapped', component, part, fate }] : []
    }
    case 'fitted': {
      const name = form.text('name', { max: 120, required: 'What is the new component called?' })
      if (part === '') form.fault('part', 'Which part is it?')
      const key =
        name
          .toLowerCase()
          .replaceAll(/[^a-z0-9]+/g, '-')
          .replaceAll(/^-|-$/g, '') || 'component'
      let free = key
      for (let n = 2; given.state.components.has(free); n++) free = `${key}-${n}`
      return [{ kind: 'fitted', component: { key: free, name, part } }]
    }
    case 'removed':
      needs()
      return known ? [{ kind: 'removed', component, fate }] : []
    case 'rerouted': {
      needs()
      const length_m = form.number('length', { min: 0, max: 1000 })
      if (length_m === null) form.fault('length', 'How long is it now, in metres?')
      return known && length_m !== null ? [{ kind: 'rerouted', component, length_m }] : []
    }
    case 'measured': {
      needs()
      const value = form.number('value', { min: -100_000, max: 100_000 })
      if (value === null) form.fault('value', 'What was measured?')
      const quantity = form.choice('quantity', ['voltage', 'current', 'resistance'], 'voltage')
      return known && value !== null ? [{ kind: 'measured', at: component, quantity, value }] : []
    }
    default: {
      if (given.text === '' && form.text('title') === '') form.fault('text', 'What was done, in a few words?')
      return [{ kind: verb, ...(known ? { component } : {}), text: given.text || form.typed('title') || verb }]
    }
  }
}

function titleOf(verb: Verb, component: string, part: string): string {
  if (verb === 'swapped') return `${component} swapped for ${part}`
  return `${component || 'Vehicle'} ${verb}`
}
