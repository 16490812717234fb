import type { Circuit } from '../circuit.ts'
import { CLEARING_s, type Clearing, clearingsOf, mostLetThrough } from '../clearing.ts'
import { isStarterOrReturn } from '../feed-service.ts'
import { ALUMINIUM, adiabatic_k, COPPER, finalTemperature_degC } from '../tables/adiabatic-constants.ts'
import { defineRule, type Reading, workedRating } from './rule.ts'

export const faultWithstand = defineRule({
  id: 'fault-withstand',
  title: 'The conductor withstands a short anywhere along it',
  why: 'Until the fuse opens, all the heat of a short stays in the copper: a thin wire melts its insulation in that time.',
  formula:
    'greatest I²t that the device lets through of a short anywhere along the conductor ≤ k²S²: in each row of its window from the far end’s current to the near end’s, the row’s highest current² × its longest time; from 600 % of its rating on at most t600·(6·I_rated)²; k = √(Qc·(β + 20)/ρ20·ln((β + θf)/(β + Tr)))',
  limits: 'Tight above 80 % of k²S², over above it. Judged only where a short at the far end is cleared within 5 s.',
  judgedIn: 'wiring',
  appliesTo: ['conductor'],
  needs: ['crossSection_mm2', 'insulation_degC and insulation', 'rated_A and form of the devices ahead'],
  sources: [
    { title: 'IEC 60364-4-43, 60364-5-54', place: 'adiabatic law and its constants', grade: 'read' },
    { title: 'Type C, E and F data sheets as transcribed (ISO 8820-3)', place: 'opening windows', grade: 'read' },
    { title: 'Adiabatic melting of a link', place: 'I²t above 600 % no more than at 600 %', grade: 'computed' },
    { title: 'Current of a short by its place', place: 'from the far end’s to the near end’s, the greater the nearer', grade: 'computed' },
  ],
  remedy: 'Fit a larger conductor, or a faster or smaller fuse.',
  read: ({ circuit, component }) => {
    if (isStarterOrReturn(circuit, component)) return null
    const readings = clearingsOf(circuit, component).flatMap((clearing) =>
      clearing.opens && clearing.opens.longest_s <= CLEARING_s ? [readingOf({ circuit, component, clearing })] : [],
    )
    return readings
  },
})

function readingOf(given: { readonly circuit: Circuit; readonly component: string; readonly clearing: Clearing }): Reading {
  const { circuit, component, clearing } = given
  const { name, parallel } = circuit.component(component)
  const opens = clearing.opens as NonNullable<Clearing['opens']>
  const area = circuit.crossSection_mm2(component)
  const insulation = circuit.rating(component, 'insulation_degC')
  const kind = circuit.rawRating(component, 'insulation')
  const Tf = finalTemperature_degC(typeof kind === 'string' ? kind : null, area?.value ?? 0)
  // Rated for more in use than its kind is taken to stand in a short: a material that the table does not know.
  const isAtOdds = insulation !== null && insulation.value >= Tf
  const k = insulation ? adiabatic_k({ material: materialOf(circuit, component), initial_degC: insulation.value, final_degC: Tf }) : null
  // The share of the device's current that one of the conductors carries; in a plain feed all of it.
  const share = clearing.own_A / opens.current_A / (parallel ?? 1)
  const most = mostLetThrough(opens, clearing.near_A)
  const letThrough_A2s = most.heat_A2s * share * share
  return {
    value: letThrough_A2s,
    limit: k === null || !area ? null : (k * area.value) ** 2,
    unit: 'A²s',
    missing: [
      area ? '' : 'cross-section',
      insulation ? '' : 'insulation temperature rating',
      isAtOdds ? 'what its insulation stands in a short' : '',
      ...clearing.fault.missing,
    ].filter((one) => one !== ''),
    grades: [area?.grade ?? 'assumed', insulation?.grade ?? 'assumed', 'typical'],
    subject: `A short along ${name} puts into it, until ${circuit.component(opens.device).name} opens, up to`,
    limitIs: 'withstand',
    worked() {
      return [
        { name: 'short at the far end, through the device', value: opens.current_A, unit: 'A' },
        { name: 'short at the near end, through the device', value: clearing.near_A, unit: 'A' },
        { name: 'most is let through at', value: most.current_A, unit: 'A' },
        { name: 'of its rating', value: (most.current_A / opens.rated_A) * 100, unit: '%' },
        { name: 'longest time up to there', value: most.longest_s, unit: 's' },
        { name: 'let through in one conductor', value: letThrough_A2s, unit: 'A²s' },
        workedRating('cross-section, S', area, 'mm²'),
        workedRating('start temperature, Tr', insulation, '°C'),
        { name: 'final temperature, θf', value: Tf, unit: '°C' },
        { name: 'adiabatic factor, k', value: k, unit: 'A·√s/mm²' },
      ]
    },
  }
}

function materialOf(circuit: Circuit, conductor: string) {
  const material = circuit.rawRating(conductor, 'material')
  return material === 'aluminium' || material === 'cca-10' || material === 'cca-15' ? ALUMINIUM : COPPER
}
