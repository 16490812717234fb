/** The log form, read into an entry; faults stay in the reader. */
import { isTerminal, terminalsOf } from '../../engine/parts/index.ts'
import { terminalsInUse } from '../../records/changes/wiring.ts'
import { componentKey } from '../../records/component-key.ts'
import type { Change, Fate, NewEntry } from '../../records/contract.ts'
import type { StoredPart } from '../../records/parts.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { onceKeyOf } from '../shared/once.ts'

export const verbs = ['swapped', 'fitted', 'removed', 'rerouted', 'measured', 'serviced', 'noted'] as const
export const fates: readonly Fate[] = ['shelf', 'bin', 'failed', 'not said']
type Verb = (typeof verbs)[number]

/** A terminal that the new part lacks and a wire is on: asked for, never guessed. */
export type Stranded = { readonly terminal: string; readonly offered: readonly string[] }

type Given = {
  readonly vehicle: { readonly id: string; readonly odometer_km: number | null }
  /** as the vehicle stood on the day of the work */
  readonly state: State
  readonly parts: readonly StoredPart[]
  readonly today: string
}

export function readLog(form: FormReader, given: Given): NewEntry {
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
    changes: [...changes, ...readAgain(form, given)],
    ...onceKeyOf(form),
  }
}

/** Terminals in use that the part chosen for a swap does not have. */
export function strandedTerminals(
  form: FormReader,
  given: { readonly state: State; readonly parts: readonly StoredPart[] },
): readonly Stranded[] {
  const component = form.typed('component')
  const kind = given.parts.find((one) => one.id === form.typed('part'))?.kind
  if (form.typed('verb') !== 'swapped' || kind === undefined || !given.state.components.has(component)) return []
  const used = terminalsInUse(given.state, component)
  const free = terminalsOf(kind).filter((one) => !used.includes(one))
  return used
    .filter((terminal) => !isTerminal(kind, terminal))
    .map((terminal) => ({ terminal, offered: free.length > 0 ? free : terminalsOf(kind) }))
}

function readChanges(
  form: FormReader,
  verb: Verb,
  given: { readonly state: State; readonly parts: readonly StoredPart[]; readonly text: string },
): readonly Change[] {
  const component = form.text('component', { max: 80 })
  const known = component !== '' && given.state.components.has(component)
  if (component !== '' && !known) form.fault('component', 'There is no such component in this vehicle on that day.')
  const needs = () => known || component !== '' || form.fault('component', 'Which component?') !== null
  const fate = form.choice<Fate>('fate', fates, 'not said')
  const part = form.text('part', { max: 80 })
  if (part !== '' && !given.parts.some((one) => one.id === part)) form.fault('part', 'There is no such part on the shelf.')
  switch (verb) {
    case 'swapped': {
      needs()
      if (part === '') form.fault('part', 'Which part is in its place now?')
      const terminals = readTerminals(form, strandedTerminals(form, given))
      const moved = Object.keys(terminals).length > 0 ? { terminals } : {}
      return known && part !== '' ? [{ kind: 'swapped', component, part, fate, ...moved }] : []
    }
    case 'fitted': {
      const name = form.text('name', { max: 120, required: 'What is the new component called?' })
      if (part === '') form.fault('part', 'Which part is it?')
      return [{ kind: 'fitted', component: { key: componentKey(name, given.state.components), name, part } }]
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
      if (value === null && !form.faults.some((fault) => fault.field === 'value')) form.fault('value', 'What was measured?')
      const quantity = form.choice('quantity', ['voltage', 'current', 'resistance'], 'voltage')
      return known && value !== null ? [{ kind: 'measured', at: component, quantity, value }] : []
    }
    default: {
      if (given.text === '' && form.text('title') === '') form.fault('text', 'What was done, in a few words?')
      return [{ kind: verb, ...(known ? { component } : {}), text: given.text || form.typed('title') || verb }]
    }
  }
}

/** Where each stranded wire went; all must be said, and no two on one terminal. */
function readTerminals(form: FormReader, stranded: readonly Stranded[]): Readonly<Record<string, string>> {
  const moves: Record<string, string> = {}
  for (const { terminal, offered } of stranded) {
    const field = `terminal-${terminal}`
    const to = form.text(field, { max: 20 })
    if (to === '') form.fault(field, `The new part has no terminal ${terminal}, and a wire is on it. Where did that wire go?`)
    else if (!offered.includes(to)) form.fault(field, `The new part has no free terminal ${to}.`)
    else if (Object.values(moves).includes(to)) form.fault(field, `Another wire already went to ${to}.`)
    else moves[terminal] = to
  }
  return moves
}

/** "Look at it again on …" becomes something due. */
function readAgain(form: FormReader, given: Given): readonly Change[] {
  if (form.typed('again').trim() === '') return []
  const on = form.date('again', { latest: '2199-12-31' })
  const component = form.typed('component')
  const has = given.state.components.has(component)
  const name = given.state.components.get(component)?.name ?? 'the vehicle'
  return [
    {
      kind: 'due-set',
      key: `again-${on}-${has ? component : 'vehicle'}`.slice(0, 80),
      ...(has ? { component } : {}),
      what: `Look at ${name} again`,
      on,
    },
  ]
}

function titleOf(verb: Verb, component: string, part: string): string {
  if (verb === 'swapped') return `${component} swapped for ${part}`.slice(0, 200)
  return `${component || 'Vehicle'} ${verb}`
}
