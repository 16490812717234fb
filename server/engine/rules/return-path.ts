import type { Circuit } from '../circuit.ts'
import { ampacityFigures, conductorLimit } from '../conductor-limit.ts'
import { defineRule, type Reading } from './rule.ts'

export const returnPath = defineRule({
  id: 'return-path',
  title: 'Return path',
  why: 'What goes out on a fused feed comes back on the ground wire: it must bear the same fault.',
  formula:
    'a return to the source exists; protecting fuse × (test current in one return conductor ÷ test current in the fuse) ≤ its ampacity; over above 150 %',
  limits: 'Clear up to 100 % of the ampacity, tight up to 150 %, over above. No recorded return: unknown.',
  judgedIn: 'wiring',
  appliesTo: ['load', 'pump'],
  needs: ['a recorded return', 'ampacity of its conductors'],
  sources: [{ title: '33 CFR 183.455(c)', place: 'the feed’s limit, taken for the return', grade: 'read' }],
  remedy: 'Record the return, or enlarge it to the feed’s size.',
  read: ({ circuit, component }) => {
    // Cranking motor conductors have no fuse to bear.
    if (circuit.rawRating(component, 'starter') === true) return null
    const { name } = circuit.component(component)
    const sources = circuit.sourcesOf(component)
    if (sources.length === 0) return null
    if (!circuit.hasReturn(component))
      return {
        ...NOTHING,
        missing: [`return of ${name}`],
        subject: name,
        statement: circuit.waysOf(component).includes(`${component}:-`)
          ? `The return of ${name} does not reach ${sources.map((source) => circuit.component(source).name).join(' or ')}.`
          : `${name} has no return recorded; it is taken to come back through the chassis.`,
      }
    const batteries = sources.filter((source) => circuit.kindOf(source) === 'battery')
    const readings = (batteries.length > 0 ? batteries : sources.slice(0, 1)).flatMap((source) =>
      returnsOf({ circuit, source, load: component }),
    )
    return readings.length > 0
      ? readings
      : { ...NOTHING, holds: true, grades: ['datasheet'], subject: name, statement: `${name} returns straight to ground.` }
  },
})

const NOTHING: Reading = { value: null, limit: null, unit: 'A', grades: ['assumed'], subject: '' }

/** With no way round anything, all of a test current passes all of it. */
const WHOLE = () => 1

/** What the device that protects the load's feed from that source lets each of its return conductors carry. */
function returnsOf(given: { readonly circuit: Circuit; readonly source: string; readonly load: string }): readonly Reading[] {
  const { circuit, source, load } = given
  const conductors = circuit.returnTo({ source, load }).filter((key) => circuit.kindOf(key) === 'conductor')
  if (conductors.length === 0) return []
  const { name } = circuit.component(load)
  const shares = circuit.isPlainLoop({ source, load }) ? WHOLE : circuit.testCurrentAtLoad({ source, load })
  const devices = circuit
    .feedFrom({ source, load })
    .filter((key) => ['fuse', 'breaker'].includes(circuit.kindOf(key)) && (shares?.(key) ?? 0) > 1e-9)
  const rated = devices.flatMap((device) => {
    const rating = circuit.rating(device, 'rated_A')
    return rating && shares ? [{ let_A: rating.value / shares(device), grade: rating.grade }] : []
  })
  const least = rated.reduce<{ let_A: number; grade: Reading['grades'][number] } | null>((a, b) => (a && a.let_A <= b.let_A ? a : b), null)
  const unrated = devices.filter((device) => !circuit.rating(device, 'rated_A')).map((device) => circuit.component(device).name)
  return conductors.map((key): Reading => {
    const conductor = circuit.component(key)
    const limit = conductorLimit(circuit, key)
    const value = least && shares ? (least.let_A * shares(key)) / (conductor.parallel ?? 1) : null
    // The known device bounds what passes: enough where that is within the limit, whatever the others are.
    const isBounded = value !== null && limit.ampacity_A !== null && value <= limit.ampacity_A
    const devicesMissing =
      devices.length === 0 ? [`what limits the current of ${name}`] : unrated.map((device) => `rated current of ${device}`)
    return {
      value,
      limit: limit.ampacity_A,
      unit: 'A',
      tightAbove: 1,
      overAbove: 1.5,
      missing: [...limit.missing.map((one) => `${one} (${conductor.name})`), ...(isBounded ? [] : devicesMissing)],
      grades: [...limit.grades, ...(least ? [least.grade] : [])],
      defaults: limit.defaults,
      subject:
        devices.length === 0
          ? `With no fuse ahead, the return ${conductor.name} of ${name} may carry`
          : `${name}’s fuse lets its return ${conductor.name} carry`,
      limitIs: 'ampacity',
      worked() {
        return [
          { name: 'return conductor', value: conductor.name, unit: '' },
          { name: 'what the device ahead lets one conductor of it carry', value, unit: 'A' },
          ...ampacityFigures(circuit, key),
          { name: 'ampacity', value: limit.ampacity_A, unit: 'A' },
        ]
      },
    }
  })
}
