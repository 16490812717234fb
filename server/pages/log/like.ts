/** The log form filled as an entry was, for the next job like it: all but its day and odometer. */
import type { Change, SavedEntry } from '../../records/contract.ts'
import { money } from '../../web/format.ts'

export function fieldsLike(entry: SavedEntry): Readonly<Record<string, string>> {
  return {
    verb: 'noted',
    ...changeFields(likeliest(entry.changes)),
    title: entry.title,
    text: entry.text,
    cost: entry.cost_minor === null ? '' : money(entry.cost_minor),
  }
}

/** The one change that this form can say; of an entry that did several things, the one that names its component itself. */
function likeliest(changes: readonly Change[]): Change | undefined {
  const done = changes.filter((one) => one.kind !== 'due-set')
  return done.length === 1 ? done[0] : done.find((one) => ['swapped', 'removed', 'serviced', 'noted'].includes(one.kind))
}

function changeFields(change: Change | undefined): Readonly<Record<string, string>> {
  switch (change?.kind) {
    case 'swapped':
      return { verb: 'swapped', component: change.component, part: change.part, fate: change.fate }
    case 'removed':
      return { verb: 'removed', component: change.component, fate: change.fate }
    case 'fitted':
      return { verb: 'fitted', name: change.component.name, part: change.component.part }
    case 'rerouted':
      return { verb: 'rerouted', component: change.component, length: change.length_m === undefined ? '' : String(change.length_m) }
    case 'measured':
      return { verb: 'measured', component: change.at, quantity: change.quantity, value: String(change.value) }
    case 'serviced':
    case 'noted':
      return { verb: change.kind, component: change.component ?? '' }
    default:
      return {}
  }
}
