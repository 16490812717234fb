import type { Circuit } from '../circuit.ts'
import { CLEARING_s, type Clearing, clearingsOf } from '../clearing.ts'
import { conductorLimit } from '../conductor-limit.ts'
import { bearsItsDevices, guardsOf } from '../device-guard.ts'
import { isStarterOrReturn } from '../feed-service.ts'
import { defineRule, type Reading } from './rule.ts'

export const faultClears = defineRule({
  id: 'fault-clears',
  title: 'A short is cleared',
  why: 'A long thin wire holds a short’s current so low that its fuse takes minutes over it, or never opens at all.',
  formula:
    'longest opening time of the device at the highest listed multiple that the short reaches ≤ 5 s; short = EMF ÷ (battery + hot feed + return)',
  limits:
    'Over above 5 s or where the short does not reach a listed multiple. A form that is slow by nature (glass, breakers) is tight where the conductor bears the device’s rating for ever, else over.',
  judgedIn: 'wiring',
  appliesTo: ['conductor'],
  needs: [
    'rated_A and form of the devices ahead',
    'internalResistance_ohm or coldCranking_A of the battery',
    'size and length of the conductors',
  ],
  sources: [
    { title: 'Type C, E and F data sheets as transcribed (ISO 8820-3)', place: 'opening windows', grade: 'read' },
    { title: 'ISO 8820-4, -5, UL 275, SAE J553', place: 'opening windows of the other forms', grade: 'memory' },
    { title: 'IEC 60364-4-43', place: 'the adiabatic law holds to 5 s', grade: 'read' },
  ],
  remedy: 'Fit a smaller or faster fuse, a thicker or shorter conductor, or put the fuse nearer the load.',
  read: ({ circuit, component }) => {
    if (isStarterOrReturn(circuit, component)) return null
    return clearingsOf(circuit, component).map((clearing) => readingOf({ circuit, component, clearing }))
  },
})

function readingOf(given: { readonly circuit: Circuit; readonly component: string; readonly clearing: Clearing }): Reading {
  const { circuit, component, clearing } = given
  const { fault, opens, nearest } = clearing
  const { name } = circuit.component(component)
  const missing = [...fault.missing, ...clearing.missing]
  const plain: Reading = {
    value: opens?.longest_s ?? null,
    limit: CLEARING_s,
    unit: 's',
    // The longest time promised is itself the bound: 5 s passes.
    tightAbove: null,
    // The short draws at most what is given: less of it only clears later. A device that is not known may clear it sooner.
    overStands: clearing.missing.length === 0,
    missing,
    grades: ['typical'],
    subject: opens
      ? `Ending a short at the far end of ${name} takes ${circuit.component(opens.device).name} up to`
      : `A short at the far end of ${name} lasts`,
    worked() {
      return figures({ circuit, clearing })
    },
  }
  if (!opens && clearing.missing.length > 0) return plain
  if (!opens)
    return {
      ...plain,
      fails: true,
      statement: `A short at the far end of ${name} draws too little for ${nearest ? circuit.component(nearest.device).name : 'its fuse'} to be sure to open.`,
    }
  if (!opens.slowByNature || clearing.missing.length > 0) return plain
  const doubts = bearingDoubts(circuit, component)
  if (doubts.length > 0) return { ...plain, missing: [...missing, ...doubts], overStands: false }
  const { name: device } = circuit.component(opens.device)
  return bearsItsDevices(circuit, component)
    ? {
        ...plain,
        atMost: 'tight',
        statement: `${device} is slow by its kind on a short at the far end of ${name}, which bears its rating meanwhile.`,
      }
    : { ...plain, statement: `${device} is slow by its kind on a short at the far end of ${name}, which does not bear its rating.` }
}

function figures(given: { readonly circuit: Circuit; readonly clearing: Clearing }) {
  const { circuit, clearing } = given
  const { fault, opens, nearest, source } = clearing
  return [
    { name: 'battery, alone', value: circuit.component(source).name, unit: '' },
    { name: 'the short returns by', value: circuit.component(fault.to.slice(0, fault.to.indexOf(':'))).name, unit: '' },
    { name: 'short, conductors hot', value: fault.current_A, unit: 'A' },
    { name: 'device', value: opens || nearest ? circuit.component((opens ?? nearest)?.device as string).name : null, unit: '' },
    { name: 'through it, of its rating', value: opens?.percent ?? nearest?.percent ?? null, unit: '%' },
    { name: 'highest listed multiple reached', value: opens?.row.percent ?? null, unit: '%' },
    { name: 'its longest opening time', value: opens?.longest_s ?? null, unit: 's' },
  ]
}

/** What has to be known before a conductor can be said to bear its devices' ratings or not. */
function bearingDoubts(circuit: Circuit, conductor: string): readonly string[] {
  const unrated = guardsOf(circuit, conductor).flatMap((guard) => (guard.kind === 'device' && guard.value_A === null ? guard.unrated : []))
  return [...conductorLimit(circuit, conductor).missing, ...unrated.map((device) => `rated current of ${circuit.component(device).name}`)]
}
