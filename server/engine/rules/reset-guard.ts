import type { Circuit } from '../circuit.ts'
import { defineRule } from './rule.ts'

export const resetGuard = defineRule({
  id: 'reset-guard',
  title: 'Self-resetting breakers',
  why: 'A breaker that closes again by itself heats a short over and over; something ahead of it has to end that.',
  formula: 'between each battery and a breaker of automatic reset stands another fuse or breaker',
  limits: 'Tight where none does; never over.',
  judgedIn: 'wiring',
  appliesTo: ['breaker'],
  needs: ['reset'],
  sources: [{ title: 'SAE J553', place: 'type 1, only with another limiting device upstream', grade: 'read' }],
  remedy: 'Put a fuse ahead of it, or fit a breaker that stays open.',
  read: ({ circuit, component }) => {
    const reset = circuit.rawRating(component, 'reset')
    if (reset !== null && reset !== 'automatic') return null
    const { name } = circuit.component(component)
    const batteries = circuit.sourcesOf(component).filter((source) => circuit.kindOf(source) === 'battery')
    const ahead = batteries.map((source) => ({ source, ...guardAhead({ circuit, source, component }) }))
    if (ahead.length === 0 || (reset === null && ahead.every((one) => one.stands))) return null
    const bare = ahead.find((one) => !one.stands && one.doubtful.length === 0)
    const doubtful = [...new Set(ahead.flatMap((one) => (one.stands ? [] : one.doubtful)))].map((device) => circuit.component(device).name)
    const plain = {
      value: null,
      limit: null,
      unit: '',
      grades: [circuit.part(component).evidence?.reset ?? 'assumed'],
      subject: name,
    } as const
    if (reset === null) {
      const statement = `How ${name} resets is not known, and nothing is sure to end a short ahead of it.`
      return { ...plain, missing: ['how it resets'], statement }
    }
    if (bare) {
      const statement = `${name} resets by itself and nothing ahead of it ends a short from ${circuit.component(bare.source).name}.`
      return { ...plain, fails: true, atMost: 'tight', statement }
    }
    if (doubtful.length > 0) {
      const statement = `${name} resets by itself; whether ${doubtful.join(', ')} ahead of it does too is not known.`
      return { ...plain, missing: doubtful.map((device) => `how ${device} resets`), statement }
    }
    return { ...plain, holds: true, statement: `${name} resets by itself and has a device ahead of it.` }
  },
})

/** Whether something between a battery and the breaker stays open once it has opened; else the breakers there that may. */
function guardAhead(given: { readonly circuit: Circuit; readonly source: string; readonly component: string }): {
  readonly stands: boolean
  readonly doubtful: readonly string[]
} {
  const { circuit, source, component } = given
  const devices = circuit.devicesBetween(source, component)
  const resets = (device: string) => (circuit.kindOf(device) === 'breaker' ? circuit.rawRating(device, 'reset') : 'never')
  return {
    stands: devices.some((device) => resets(device) !== 'automatic' && resets(device) !== null),
    doubtful: devices.filter((device) => resets(device) === null),
  }
}
