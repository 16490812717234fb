import type { Circuit, ContactCurrent, SolvedCondition } from '../circuit.ts'
import { switchFactor, worstFactor } from '../tables/faa-switch-factors.ts'
import type { Grade } from '../vehicle.ts'
import { defineRule, type Reading } from './rule.ts'

export const contactLoad = defineRule({
  id: 'contact-load',
  title: 'Load on a contact',
  why: 'A contact that carries more than its rating heats, pits and welds shut.',
  formula:
    'steady current of the contact in use ≤ its rating at the zone’s temperature; switches × factor for the load’s nature, which alone is at most tight',
  limits: 'Tight above 80 % of the rating, over above it. The factor for a load’s nature alone is never more than tight.',
  judgedIn: 'condition',
  appliesTo: ['relay', 'switch'],
  needs: ['make_A', 'break_A', 'rated_A'],
  sources: [
    { title: 'Relay data sheet as transcribed', place: 'carry current by ambient', grade: 'read' },
    { title: 'FAA AC 43.13-1B', place: 'Table 11-4, switch factors', grade: 'read' },
  ],
  remedy: 'Fit a relay or switch of a higher rating, or give one of the loads a relay of its own.',
  read: ({ circuit, solved, component }) => {
    const all = solved.contacts(component)
    // A contact that carries nothing is within any rating: it is told only where none carries.
    const carrying = all.filter((contact) => contact.current_A > 1e-9 || solved.unknownLoads(component).length > 0)
    const contacts = carrying.length > 0 ? carrying : all
    return contacts.map((contact) => readContact({ circuit, solved, component, contact }))
  },
})

function readContact(given: { circuit: Circuit; solved: SolvedCondition; component: string; contact: ContactCurrent }): Reading {
  return given.circuit.kindOf(given.component) === 'switch' ? readSwitch(given) : readRelay(given)
}

function readRelay(given: { circuit: Circuit; solved: SolvedCondition; component: string; contact: ContactCurrent }): Reading {
  const { circuit, solved, component, contact } = given
  const { limit, missing, grade } = contact.contact === 'break' ? breakLimit(circuit, component) : makeLimit(circuit, component)
  return {
    value: contact.current_A,
    limit,
    unit: 'A',
    missing,
    overStands: true,
    atLeastBecause: solved.unknownLoads(component),
    grades: [grade],
    subject: `${circuit.component(component).name} carries on its ${contact.contact} contact`,
    limitIs: 'rating',
    worked() {
      return [
        { name: `current of the ${contact.contact} contact`, value: contact.current_A, unit: 'A' },
        { name: 'ambient', value: circuit.ambient_degC(component)?.value ?? null, unit: '°C' },
        { name: 'carry current at that ambient', value: limit, unit: 'A', grade },
      ]
    },
  }
}

function readSwitch(given: { circuit: Circuit; solved: SolvedCondition; component: string; contact: ContactCurrent }): Reading {
  const { circuit, solved, component, contact } = given
  const { name } = circuit.component(component)
  const rated = circuit.rating(component, 'rated_A')
  const plain: Reading = {
    value: contact.current_A,
    limit: rated?.value ?? null,
    unit: 'A',
    missing: rated ? [] : ['rated current'],
    atLeastBecause: solved.unknownLoads(component),
    grades: [rated?.grade ?? 'assumed'],
    subject: `${name} carries`,
    limitIs: 'rating',
    worked() {
      return [
        { name: 'steady current', value: contact.current_A, unit: 'A' },
        ...contact.loads.map((load) => ({ name: `factor for ${circuit.component(load).name}`, value: factorOf(circuit, load), unit: '' })),
        { name: 'rating', value: rated?.value ?? null, unit: 'A', grade: rated?.grade ?? 'assumed' },
      ]
    },
  }
  // What is over by its current alone stays so: the nature of a load can add no more than tight.
  if (!rated || contact.current_A > rated.value) return plain
  const factors = contact.loads.map((load) => ({ load, factor: factorOf(circuit, load) }))
  const known = Math.max(1, ...factors.map((one) => one.factor ?? 1))
  // The factor is a margin already: up to the rating nothing more is asked.
  if (contact.current_A * known > rated.value)
    return {
      ...plain,
      value: contact.current_A * known,
      tightAbove: 1,
      atMost: 'tight',
      subject: `${name}, with its load’s nature counted, is used as for`,
    }
  if (contact.current_A > rated.value * 0.8) return plain
  const open = factors.filter((one) => one.factor === null).map((one) => one.load)
  const most = Math.max(1, ...open.map((load) => worstFactor(circuit.nominal_V(load))))
  if (contact.current_A * most <= rated.value) return plain
  return { ...plain, missing: open.map((load) => `nature of ${circuit.component(load).name}`) }
}

type ContactLimit = { readonly limit: number | null; readonly missing: readonly string[]; readonly grade: Grade }

function breakLimit(circuit: Circuit, component: string): ContactLimit {
  const rated = circuit.rating(component, 'break_A')
  return { limit: rated?.value ?? null, missing: rated ? [] : ['carry current of the break contact'], grade: rated?.grade ?? 'assumed' }
}

/** Carry current of the make contact: at the zone's temperature where the part gives a curve (straight lines between its rows), else its one figure. */
function makeLimit(circuit: Circuit, component: string): ContactLimit {
  const rows = rowsOf(circuit, component)
  const plain = circuit.rating(component, 'make_A')
  if (rows.length === 0)
    return { limit: plain?.value ?? null, missing: plain ? [] : ['carry current of the make contact'], grade: plain?.grade ?? 'assumed' }
  const grade = circuit.part(component).evidence?.makeByAmbient ?? 'assumed'
  const ambient = circuit.ambient_degC(component)
  const most_A = Math.max(...rows.map((row) => row.current_A))
  // Whatever the temperature, no more than the curve's best is allowed.
  if (!ambient) return { limit: most_A, missing: ['ambient temperature of its zone'], grade }
  const at = rows.findIndex((row) => row.ambient_degC >= ambient.value)
  if (at < 0) return { limit: (rows.at(-1) as Row).current_A, missing: [`carry current at ${ambient.value} °C`], grade }
  const high = rows[at] as Row
  const low = rows[at - 1]
  if (!low) return { limit: high.current_A, missing: [], grade }
  const share = (ambient.value - low.ambient_degC) / (high.ambient_degC - low.ambient_degC)
  return { limit: low.current_A + share * (high.current_A - low.current_A), missing: [], grade }
}

type Row = { readonly ambient_degC: number; readonly current_A: number }

function rowsOf(circuit: Circuit, component: string): readonly Row[] {
  const rows = circuit.rawRating(component, 'makeByAmbient')
  return Array.isArray(rows) ? [...(rows as readonly Row[])].sort((a, b) => a.ambient_degC - b.ambient_degC) : []
}

/** The factor for a load's nature; null where the load states none. A relay's coil is inductive. */
function factorOf(circuit: Circuit, load: string): number | null {
  const nature = circuit.kindOf(load) === 'relay' ? 'inductive' : circuit.rawRating(load, 'nature')
  return switchFactor(typeof nature === 'string' ? nature : null, circuit.nominal_V(load))
}
