/** The log form, read into a job; one branch for each thing that can have been done. Faults stay in the reader. */
import { isTerminal, partKind, terminalsOf } from '../../engine/parts/index.ts'
import type { ProvisionalPart } from '../../records/chain.ts'
import { terminalsInUse } from '../../records/changes/wiring.ts'
import { componentKey } from '../../records/component-key.ts'
import type { Change, Fate } from '../../records/contract.ts'
import type { Job } from '../../records/logged-job.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { mainRating, partByFigure } from '../shared/main-rating.ts'
import { onceKeyOf } from '../shared/once.ts'
import { oddReading, type Reading } from './odometer.ts'

export const verbs = ['swapped', 'fitted', 'removed', 'rerouted', 'measured', 'serviced', 'noted'] as const
export const fates: readonly Fate[] = ['shelf', 'bin', 'failed', 'not said']
export type Verb = (typeof verbs)[number]

/** The choice that stands for a part named on this form. */
export const NEW_PART = 'new'
export const MOST_PHOTOS = 40

/** A terminal that the new part lacks and a wire is on: asked for, never guessed. */
export type Stranded = { readonly terminal: string; readonly offered: readonly string[] }
type Part = { readonly id: string; readonly kind: string; readonly name: string }

export type Given = {
  readonly vehicle: { readonly id: string; readonly systemVoltage_V: number }
  /** as the vehicle stood on the day of the work */
  readonly state: State
  /** the part of the shelf that was chosen */
  readonly part: Part | null
  /** the kind of what is fitted at the component; empty if there is none */
  readonly kindInPlace: string
  readonly readings: readonly Reading[]
  readonly today: string
}

export function readLog(form: FormReader, given: Given): Job {
  const verb = form.choice<Verb>('verb', verbs, 'noted')
  const effectiveOn = form.date('on', { latest: given.today })
  const odometer_km = readOdometer(form, { effectiveOn, readings: given.readings })
  const cost = form.number('cost', { min: 0, max: 10_000_000 })
  const text = form.text('text', { max: 20_000 })
  const done = readDone(form, verb, given)
  return {
    vehicleId: given.vehicle.id,
    effectiveOn,
    title: form.text('title', { max: 200 }) || titleOf(verb, done, text),
    text,
    ...(odometer_km === null ? {} : { odometer_km }),
    ...(cost === null ? {} : { cost_minor: Math.round(cost * 100) }),
    changes: [...done.changes, ...readAgain(form, done)],
    newParts: done.newParts,
    photoIds: photoIds(form),
    ...onceKeyOf(form),
  }
}

/** Terminals in use that the part chosen for a swap does not have. */
export function strandedTerminals(form: FormReader, given: Pick<Given, 'state' | 'part' | 'kindInPlace'>): readonly Stranded[] {
  const component = form.typed('component')
  const kind = form.typed('part') === NEW_PART ? form.typed('new-kind') || given.kindInPlace : given.part?.kind
  if (form.typed('verb') !== 'swapped' || kind === undefined || !partKind(kind) || !given.state.components.has(component)) return []
  const used = terminalsInUse(given.state, component)
  const free = terminalsOf(kind).filter((one) => !used.includes(one))
  return used
    .filter((terminal) => !isTerminal(kind, terminal))
    .map((terminal) => ({ terminal, offered: free.length > 0 ? free : terminalsOf(kind) }))
}

/** Ids of photos sent ahead; a field that comes as often as there are photos. */
export function photoIds(form: FormReader): readonly string[] {
  const { photos } = form.body
  const all = (Array.isArray(photos) ? photos : [photos]).filter((one): one is string => typeof one === 'string' && one !== '')
  if (all.length > MOST_PHOTOS) form.fault('photos', `At most ${MOST_PHOTOS} photos with one entry; the others can follow on its page.`)
  if (all.some((one) => !/^[0-9a-f-]{36}$/.test(one))) form.fault('photos', 'One of these is no photo that was sent.')
  return [...new Set(all.slice(0, MOST_PHOTOS))]
}

function readOdometer(form: FormReader, given: { readonly effectiveOn: string; readonly readings: readonly Reading[] }): number | null {
  const odometer_km = form.number('odometer', { min: 0, max: 9_999_999 })
  if (odometer_km === null) return null
  const odd = oddReading({ odometer_km, on: given.effectiveOn, readings: given.readings })
  // A tick that stood beside another figure answers another question.
  if (odd !== '' && form.typed('as-typed') !== form.typed('odometer').trim()) form.fault('odometer', odd)
  return odometer_km
}

/** What was done, and to what. `component` is empty where it was to the vehicle as a whole. */
type Done = {
  readonly changes: readonly Change[]
  readonly newParts: readonly ProvisionalPart[]
  readonly component: string
  readonly name: string
  readonly part: string
}

/** Fields that the work at hand does not ask for are not read: they may hold what was typed before another kind was chosen. */
function readDone(form: FormReader, verb: Verb, given: Given): Done {
  if (verb === 'fitted') return readFitted(form, given)
  const component = form.text('component', { max: 80 })
  const known = given.state.components.get(component)
  if (component !== '' && !known) form.fault('component', 'There is no such component in this vehicle on that day.')
  if (component === '' && verb !== 'serviced' && verb !== 'noted') form.fault('component', 'Which component?')
  const nothing: Done = { changes: [], newParts: [], component: known ? component : '', name: known?.name ?? '', part: '' }
  const done = (change: Change | null): Done => ({ ...nothing, changes: known && change ? [change] : [] })
  switch (verb) {
    case 'swapped': {
      const { part, name, newParts } = readPart(form, given, 'Which part is in its place now?')
      const fate = form.choice<Fate>('fate', fates, 'not said')
      const terminals = readTerminals(form, strandedTerminals(form, given))
      const moved = Object.keys(terminals).length > 0 ? { terminals } : {}
      return { ...done(part === '' ? null : { kind: 'swapped', component, part, fate, ...moved }), newParts, part: name }
    }
    case 'removed':
      return done({ kind: 'removed', component, fate: form.choice<Fate>('fate', fates, 'not said') })
    case 'rerouted': {
      const length_m = form.number('length', { min: 0, max: 1000 })
      if (length_m === null) form.fault('length', 'How long is it now, in metres?')
      return done(length_m === null ? null : { kind: 'rerouted', component, length_m })
    }
    case 'measured': {
      const value = form.number('value', { min: -100_000, max: 100_000 })
      if (value === null && !form.faults.some((fault) => fault.field === 'value')) form.fault('value', 'What was measured?')
      const quantity = form.choice('quantity', ['voltage', 'current', 'resistance'], 'voltage')
      return done(value === null ? null : { kind: 'measured', at: component, quantity, value })
    }
    default: {
      const text = form.typed('text').trim() || form.typed('title').trim()
      if (text === '') form.fault('text', 'What was done, in a few words?')
      return { ...nothing, changes: [{ kind: verb, ...(known ? { component } : {}), text: text || verb }] }
    }
  }
}

function readFitted(form: FormReader, given: Given): Done {
  const name = form.text('name', { max: 120, required: 'What is the new component called?' })
  const { part, name: called, newParts } = readPart(form, { ...given, kindInPlace: '' }, 'Which part is it?')
  const key = componentKey(name, given.state.components)
  return { changes: [{ kind: 'fitted', component: { key, name, part } }], newParts, component: key, name, part: called }
}

/** A part of the shelf, or one named here by its main rating; an empty id where it is neither. */
function readPart(
  form: FormReader,
  given: Pick<Given, 'part' | 'kindInPlace' | 'vehicle'>,
  asked: string,
): { readonly part: string; readonly name: string; readonly newParts: readonly ProvisionalPart[] } {
  const part = form.text('part', { max: 80 })
  if (part !== NEW_PART) {
    if (part === '') form.fault('part', asked)
    else if (!given.part) form.fault('part', 'There is no such part on the shelf.')
    return { part: given.part?.id ?? '', name: given.part?.name ?? '', newParts: [] }
  }
  const name = form.text('new-name', { max: 200, required: 'What is the new part called?' })
  const kind = form.text('new-kind', { max: 40 }) || given.kindInPlace
  if (!partKind(kind)) form.fault('new-kind', kind === '' ? 'What kind of part is it?' : 'There is no such kind of part.')
  const value = form.number('new-figure', { aboveZero: true, max: 1e6 })
  if (value !== null && partKind(kind) && !mainRating(kind))
    form.fault('new-figure', 'A part of that kind has no such figure: leave it blank.')
  const id = 'new-1'
  return { part: id, name, newParts: [{ id, ...partByFigure({ kind, name, value, systemVoltage_V: given.vehicle.systemVoltage_V }) }] }
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
function readAgain(form: FormReader, done: Done): readonly Change[] {
  if (form.typed('again').trim() === '') return []
  const on = form.date('again', { latest: '2199-12-31' })
  const { component } = done
  return [
    {
      kind: 'due-set',
      key: `again-${on}-${component || 'vehicle'}`.slice(0, 80),
      ...(component === '' ? {} : { component }),
      what: `Look at ${done.name || 'the vehicle'} again`,
      on,
    },
  ]
}

const MOST_TITLE = 70

/** What a note says begins its title: in a journal of twenty years “noted” alone says nothing. */
function titleOf(verb: Verb, done: Done, text: string): string {
  if (verb === 'swapped') return `${done.name} swapped for ${done.part}`.slice(0, 200)
  const letters = [...(text.split('\n')[0] ?? '')]
  if (verb === 'noted' && letters.length > 0) {
    const begun = letters.length > MOST_TITLE ? `${letters.slice(0, MOST_TITLE).join('').trimEnd()} …` : letters.join('')
    return done.name === '' ? begun : `${done.name}: ${begun}`
  }
  return `${done.name || 'Vehicle'} ${verb}`
}
