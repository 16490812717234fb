/** The insert form, read into a cut: which wire, where, and what stands between. */

import type { Part } from '../../engine/vehicle.ts'
import type { Insert } from '../../records/chain.ts'
import { componentOf, joinsAt, terminalNameOf } from '../../records/changes/wiring.ts'
import type { EntryHeading } from '../../records/journal.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { numberOrUnknown, type RowType, readPartChoice } from '../shared/new-part.ts'
import { onceKeyOf } from '../shared/once.ts'

export const insertTypes: readonly RowType[] = ['fuse', 'breaker', 'relay', 'switch', 'diode', 'connector', 'splice']
/** A conductor that can be cut, seen from the component the page is about. */
export type Cuttable = { readonly conductor: string; readonly nearEnd: 'a' | 'b' }

/** The component itself if it is a conductor, else the conductors joined to it. */
export function cuttable(state: State, parts: ReadonlyMap<string, Part>, key: string): readonly Cuttable[] {
  const isConductor = (component: string) => parts.get(state.components.get(component)?.part ?? '')?.kind === 'conductor'
  if (isConductor(key)) return [{ conductor: key, nearEnd: 'a' }]
  const ends = joinsAt(state, key).map((join) => (componentOf(join.from) === key ? join.to : join.from))
  const found = ends.filter((end) => isConductor(componentOf(end)))
  return found.map((end) => ({ conductor: componentOf(end), nearEnd: terminalNameOf(end) === 'b' ? 'b' : 'a' }))
}

export function readInsert(
  form: FormReader,
  given: {
    readonly vehicleId: string
    readonly systemVoltage_V: number
    readonly key: string
    readonly state: State
    readonly parts: ReadonlyMap<string, Part>
    readonly today: string
  },
): EntryHeading & { readonly insert: Insert } {
  const { state, parts } = given
  const chosen = form.text('conductor', { required: 'Which wire is cut?' })
  const cut = cuttable(state, parts, given.key).find((one) => one.conductor === chosen)
  if (chosen !== '' && !cut) form.fault('conductor', 'That wire is not joined to this component.')
  const type = form.choice<RowType>('type', insertTypes, 'fuse')
  const name = form.text('name', { max: 120, required: `What is this ${type} called?` })
  return {
    vehicleId: given.vehicleId,
    effectiveOn: form.date('on', { latest: given.today }),
    title: form.text('title', { max: 200 }) || `${name} put in line`,
    text: '',
    insert: {
      conductor: chosen,
      nearEnd: cut?.nearEnd ?? 'a',
      near_m: numberOrUnknown(form, 'near', { aboveZero: true, max: 1000 }),
      row: {
        type,
        name,
        part: readPartChoice(form, { type, suffix: '', name, parts, systemVoltage_V: given.systemVoltage_V }),
        zone: state.components.get(chosen)?.zone,
      },
    },
    ...onceKeyOf(form),
  }
}
