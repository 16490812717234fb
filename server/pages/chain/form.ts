/** The chain form, read into a chain; every figure may be left as "don't know". */
import { terminalsOf } from '../../engine/parts/index.ts'
import type { Part } from '../../engine/vehicle.ts'
import type { Chain, ChainRow, ConductorRow } from '../../records/chain.ts'
import type { EntryHeading } from '../../records/journal.ts'
import type { StoredPart } from '../../records/parts.ts'
import type { State } from '../../records/state.ts'
import { FormReader } from '../../web/form.ts'
import { conductorPart, numberOrUnknown, type RowType, readPartChoice, rowTypes } from '../shared/new-part.ts'
import { onceKeyOf } from '../shared/once.ts'

/** What the form shows first: wire, relay, wire, load, return to the first ground point, coil from the first switch. */
export function startForm(given: {
  readonly state: State
  readonly parts: ReadonlyMap<string, Part>
  readonly key: string
  readonly today: string
}): FormReader {
  const { state, parts, key } = given
  const kindOf = (component: string) => parts.get(state.components.get(component)?.part ?? '')?.kind ?? ''
  const places = [...state.components.keys()]
  const ground = places.find((place) => kindOf(place) === 'ground-point') ?? places.find((place) => kindOf(place) === 'chassis')
  const groundAt = ground === undefined ? '' : `${ground}:${freeTerminal(state, ground)}`
  const controller = places.find((place) => kindOf(place) === 'switch')
  return new FormReader({
    from: `${key}:${outTerminal(state, key, kindOf(key))}`,
    rows: '4',
    'type-0': 'conductor',
    'size-0': '2.5',
    'length-0': '0.5',
    'type-1': 'relay',
    'name-1': freshName(state, 'Relay'),
    'figure-1': '30',
    'type-2': 'conductor',
    'size-2': '2.5',
    'length-2': '3',
    'type-3': 'load',
    'name-3': freshName(state, 'New load'),
    return: groundAt,
    'return-size': '2.5',
    'return-length': '0.6',
    control: controller === undefined ? '' : `${controller}:out`,
    'control-ground': groundAt,
    insulation: '85',
    on: given.today,
  })
}

export function readChainForm(
  form: FormReader,
  given: {
    readonly vehicleId: string
    readonly systemVoltage_V: number
    readonly parts: ReadonlyMap<string, Part>
    /** those of the shelf, where one of the same size is looked for */
    readonly conductors: readonly StoredPart[]
    readonly state: State
    readonly today: string
  },
): EntryHeading & { readonly chain: Chain } {
  const count = form.number('rows', { min: 0, max: 12, whole: true }) ?? 0
  const insulation_degC = form.number('insulation', { min: 40, max: 300 })
  const zone = form.text('zone') || undefined
  const wire = (prefix: string, suffix: string): ConductorRow => {
    const size_mm2 = numberOrUnknown(form, `${prefix}size${suffix}`, { aboveZero: true, max: 300 })
    return {
      type: 'conductor',
      length_m: numberOrUnknown(form, `${prefix}length${suffix}`, { aboveZero: true, max: 200 }),
      part: conductorPart(given.conductors, { size_mm2, insulation_degC }),
      zone,
    }
  }
  const rows: ChainRow[] = []
  for (let n = 0; n < count; n++) {
    const type = form.choice<RowType>(`type-${n}`, rowTypes, 'conductor')
    if (type === 'conductor') {
      rows.push(wire('', `-${n}`))
      continue
    }
    const name = form.text(`name-${n}`, { max: 120, required: `What is this ${type} called?` })
    const part = readPartChoice(form, { type, suffix: `-${n}`, name, parts: given.parts, systemVoltage_V: given.systemVoltage_V })
    rows.push({ type, name, zone, part })
  }
  const back = form.text('return')
  const hasLength = form.typed('return-length') !== '' || form.typed('return-size') !== ''
  const control = form.text('control')
  const controlGround = form.text('control-ground')
  const hasRelay = rows.some((row) => row.type === 'relay')
  const chain: Chain = {
    from: form.text('from', { required: 'Where does it start?' }),
    rows,
    return: back === '' ? null : { to: back, ...(hasLength ? { conductor: wire('return-', '') } : {}) },
    control:
      hasRelay && (control !== '' || controlGround !== '')
        ? { ...(control === '' ? {} : { from: control }), ...(controlGround === '' ? {} : { groundTo: controlGround }) }
        : null,
    ...(form.ticked('inRest') ? { inRest: true } : {}),
  }
  const names = rows.flatMap((row) => ('name' in row ? [row.name] : []))
  return {
    vehicleId: given.vehicleId,
    effectiveOn: form.date('on', { latest: given.today }),
    title: form.text('title', { max: 200 }) || `Added ${names.at(-1) ?? 'wiring'}`,
    text: '',
    chain,
    ...(given.state.unfinished.has(form.typed('finishes')) ? { also: [{ kind: 'finished', key: form.typed('finishes') }] } : {}),
    ...onceKeyOf(form),
  }
}

function outTerminal(state: State, key: string, kind: string): string {
  const usual: Readonly<Record<string, string>> = {
    fuse: 'out',
    breaker: 'out',
    switch: 'out',
    relay: '87',
    conductor: 'b',
    battery: '+',
    alternator: '+',
    module: 'out1',
    connector: '1b',
    load: '+',
    pump: '+',
    diode: 'k',
    converter: 'out',
    charger: 'out',
  }
  return usual[kind] ?? freeTerminal(state, key)
}

function freeTerminal(state: State, key: string): string {
  const used = new Set([...state.joins.values()].flatMap((join) => [join.from, join.to]))
  for (let n = 1; n < 1000; n++) if (!used.has(`${key}:${n}`)) return String(n)
  return terminalsOf('block')[0] as string
}

function freshName(state: State, name: string): string {
  const names = new Set([...state.components.values()].map((component) => component.name))
  if (!names.has(name)) return name
  let n = 2
  while (names.has(`${name} ${n}`)) n++
  return `${name} ${n}`
}
