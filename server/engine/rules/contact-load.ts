import type { Circuit, ContactCurrent, Known, SolvedCondition } from '../circuit.ts'
import { switchFactor } from '../tables/faa-switch-factors.ts'
import { defineRule, type Reading } from './rule.ts'

export const contactLoad = defineRule({
  id: 'contact-load',
  title: 'Load on a contact',
  why: 'A contact that carries more than its rating heats, pits and welds shut.',
  formula:
    'steady current of the contact in use ≤ its rating at the zone’s temperature; switches × factor for the load’s nature, which alone is at most tight',
  appliesTo: ['relay', 'switch'],
  needs: ['make_A', 'break_A', 'rated_A'],
  sources: [
    { title: 'Relay data sheet as transcribed', place: 'carry current by ambient', grade: 'read' },
    { title: 'FAA AC 43.13-1B', place: 'Table 11-4, switch factors', grade: 'read' },
  ],
  remedy: 'Fit a relay or switch of a higher rating, or give one of the loads a relay of its own.',
  read: ({ circuit, solved, component }) => {
    const contacts = solved.contacts(component)
    const readings = contacts.map((contact) => readContact({ circuit, solved, component, contact }))
    return readings.sort((a, b) => weight(b) - weight(a))[0] ?? null
  },
})

function readContact(given: { circuit: Circuit; solved: SolvedCondition; component: string; contact: ContactCurrent }): Reading {
  const { circuit, solved, component, contact } = given
  const isSwitch = circuit.kindOf(component) === 'switch'
  const which = isSwitch ? 'rated_A' : contact.contact === 'break' ? 'break_A' : 'make_A'
  const rated = isSwitch || contact.contact === 'break' ? circuit.rating(component, which) : makeRating(circuit, component)
  const name = circuit.component(component).name
  const factor = isSwitch ? worstFactor(circuit, contact.loads) : 1
  const raw = Math.abs(contact.current_A)
  const byNature = isSwitch && rated !== null && raw <= rated.value && raw * factor > rated.value
  return {
    value: byNature ? raw * factor : raw,
    limit: rated?.value ?? null,
    unit: 'A',
    missing: rated
      ? []
      : [{ rated_A: 'rated current', make_A: 'carry current of the make contact', break_A: 'carry current of the break contact' }[which]],
    atLeastBecause: solved.unknownLoads(component),
    grades: [rated?.grade ?? 'assumed'],
    ...(byNature ? { atMost: 'tight' as const } : {}),
    subject: byNature
      ? `${name}, with its load’s nature counted, is used as for`
      : isSwitch
        ? `${name} carries`
        : `${name} carries on its ${contact.contact} contact`,
    limitIs: 'rating',
  }
}

/** Carry current of the make contact at the zone's temperature where the part gives a curve, else its one figure. */
function makeRating(circuit: Circuit, component: string): Known | null {
  const rows = circuit.rawRating(component, 'makeByAmbient')
  const ambient = circuit.ambient_degC(component)
  const plain = circuit.rating(component, 'make_A')
  if (!Array.isArray(rows) || rows.length === 0 || !ambient) return plain
  const sorted = [...(rows as readonly Readonly<Record<string, number>>[])].sort(
    (a, b) => (a.ambient_degC as number) - (b.ambient_degC as number),
  )
  const grade = circuit.part(component).evidence?.makeByAmbient ?? 'assumed'
  const at = sorted.findIndex((row) => (row.ambient_degC as number) >= ambient.value)
  if (at < 0) return null
  const high = sorted[at] as Readonly<Record<string, number>>
  const low = sorted[at - 1]
  if (!low) return { value: high.current_A as number, grade }
  const share = (ambient.value - (low.ambient_degC as number)) / ((high.ambient_degC as number) - (low.ambient_degC as number))
  return { value: (low.current_A as number) + share * ((high.current_A as number) - (low.current_A as number)), grade }
}

function worstFactor(circuit: Circuit, loads: readonly string[]): number {
  return Math.max(
    1,
    ...loads.map((load) => {
      if (circuit.kindOf(load) === 'relay') return switchFactor('inductive', circuit.nominal_V(load)) ?? 1
      const nature = circuit.rawRating(load, 'nature')
      return switchFactor(typeof nature === 'string' ? nature : null, circuit.nominal_V(load)) ?? 1
    }),
  )
}

function weight(reading: Reading): number {
  if (reading.limit === null) return (reading.value ?? 0) > 0 ? 0.99 : 0.1
  return (reading.value ?? 0) / reading.limit
}
