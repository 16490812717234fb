import type { Circuit } from '../circuit.ts'
import { ampacityFigures, conductorLimit } from '../conductor-limit.ts'
import { type DeviceGuard, guardsOf } from '../device-guard.ts'
import { defineRule, type Reading } from './rule.ts'

export const conductorProtection = defineRule({
  id: 'conductor-protection',
  title: 'Conductor protection',
  why: 'The fuse must open before the conductor behind it burns, whatever the load does.',
  formula: 'device rating × (test current in one conductor ÷ test current in the device) ≤ ampacity; over above 150 %',
  limits:
    'Clear up to 100 % of the ampacity, tight up to 150 %, over above. With no device at all between the battery and the loads: over.',
  judgedIn: 'wiring',
  appliesTo: ['conductor'],
  needs: ['rated_A of the devices ahead', 'output_A of converters and chargers', 'ampacity'],
  sources: [
    { title: '33 CFR 183.455(c)', place: 'below 50 V at most 150 % of the conductor’s ampacity', grade: 'read' },
    { title: 'FAA AC 43.13-1B 11-48', place: 'the device opens before the conductor’s rating is exceeded', grade: 'read' },
  ],
  remedy: 'Fit a smaller fuse, or a larger conductor.',
  read: ({ circuit, component }) => {
    if (!circuit.isFeed(component) || circuit.isReturn(component)) return null
    if (circuit.isStarterPath(component)) return null
    const { name } = circuit.component(component)
    const limit = conductorLimit(circuit, component)
    const guards = guardsOf(circuit, component)
    const bare = guards.find((guard) => guard.kind === 'bare')
    if (bare)
      return {
        ...NO_DEVICE,
        subject: name,
        statement: `${name} has no fuse or breaker between ${circuit.component(bare.source).name} and its loads.`,
      }
    // Near the post of one battery its unfused length is what counts, whatever feeds it from the far end.
    if (guards.some((guard) => guard.kind === 'length')) return null
    const least = guards.flatMap((guard) => (guard.kind === 'device' ? [guard] : []))
    const open = guards.find((guard) => guard.kind === 'lead')
    const unguarded: Reading | null = open
      ? {
          ...NO_DEVICE,
          atMost: 'tight',
          subject: name,
          statement: `${name} has no fuse or breaker at the end of ${circuit.component(open.source).name}.`,
        }
      : null
    if (least.length === 0) return unguarded
    // What a device of unknown rating would allow is at most what the known one beside it does: enough where that is within the limit.
    const settled = least.filter(
      (guard) => guard.value_A !== null && (guard.unrated.length === 0 || guard.value_A <= (limit.ampacity_A ?? Number.POSITIVE_INFINITY)),
    )
    const unsettled = least.filter((guard) => !settled.includes(guard)).flatMap((guard) => guard.unrated)
    if (unguarded && unsettled.length === 0 && settled.every((guard) => (guard.value_A as number) <= 1.5 * (limit.ampacity_A ?? 0)))
      return unguarded
    const worst = settled.reduce<DeviceGuard | null>((a, b) => (a && (a.value_A as number) >= (b.value_A as number) ? a : b), null)
    return {
      value: worst?.value_A ?? null,
      limit: limit.ampacity_A,
      unit: 'A',
      missing: [
        ...limit.missing,
        ...[...new Set(unsettled)].map((device) => `${limits(circuit, device)} current of ${circuit.component(device).name}`),
      ],
      overStands: limit.missing.length === 0,
      tightAbove: 1,
      overAbove: 1.5,
      grades: [...limit.grades, ...(worst ? [worst.grade] : [])],
      defaults: limit.defaults,
      subject: worst?.device ? `${circuit.component(worst.device).name} lets ${name} carry` : `The device ahead of ${name} lets it carry`,
      limitIs: 'ampacity',
      worked() {
        return [
          { name: 'device ahead', value: worst?.device ? circuit.component(worst.device).name : null, unit: '' },
          {
            name: 'its rating',
            value: worst?.device
              ? ((circuit.rating(worst.device, 'rated_A') ?? circuit.rating(worst.device, 'output_A'))?.value ?? null)
              : null,
            unit: 'A',
          },
          { name: 'what it lets one conductor carry', value: worst?.value_A ?? null, unit: 'A' },
          ...ampacityFigures(circuit, component),
          { name: 'ampacity', value: limit.ampacity_A, unit: 'A' },
        ]
      },
    }
  },
})

/** A fuse is rated; a converter or charger has an output. */
function limits(circuit: Circuit, device: string): string {
  return ['converter', 'charger'].includes(circuit.kindOf(device)) ? 'output' : 'rated'
}

const NO_DEVICE: Reading = {
  value: null,
  limit: null,
  unit: 'A',
  grades: ['datasheet'],
  subject: '',
  fails: true,
  remedy: 'Put a fuse at the battery end.',
}
