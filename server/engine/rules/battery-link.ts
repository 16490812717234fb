import type { Circuit } from '../circuit.ts'
import { defineRule } from './rule.ts'

export const batteryLink = defineRule({
  id: 'battery-link',
  title: 'Link between batteries',
  why: 'A cable between two batteries is fed from both ends: a short in it burns from the end that has no fuse.',
  formula: 'between the conductor and the post of each battery stands a fuse or breaker, within 1.016 m of that post',
  limits: 'Over where one end has none; never tight.',
  judgedIn: 'wiring',
  appliesTo: ['conductor'],
  needs: ['the fuses of the link and where they sit'],
  sources: [
    { title: '33 CFR 183.455(a), (b)', place: 'a device in every ungrounded conductor, at its source', grade: 'read' },
    { title: '46 CFR 111.15-25', place: 'an overload device in each battery conductor', grade: 'read' },
  ],
  remedy: 'Put a fuse at each battery’s end of the link.',
  read: ({ circuit, component }) => {
    const pairs = circuit.batteriesLinkedBy(component)
    if (pairs.length === 0) return null
    const ends = [...new Set(pairs.flat())].map((battery) => ({ battery, ...guardAt({ circuit, battery, conductor: component }) }))
    const { name } = circuit.component(component)
    const bare = ends.find((end) => end.guard === 'none')
    const open = ends.filter((end) => end.guard === 'unknown')
    const named = [...new Set(pairs.flat())].map((battery) => circuit.component(battery).name).join(' and ')
    return {
      value: null,
      limit: null,
      unit: '',
      ...(bare ? { fails: true } : { holds: true }),
      missing: bare ? [] : open.flatMap((end) => end.missing),
      grades: ['datasheet'],
      subject: name,
      statement: bare
        ? `${name} links ${named} and has no fuse or breaker at the end of ${circuit.component(bare.battery).name}.`
        : open.length > 0
          ? `${name} links ${named}; how far the fuse sits from a post is not known.`
          : `${name} links ${named} guarded from both ends.`,
      worked() {
        return ends.map((end) => ({ name: `device at ${circuit.component(end.battery).name}`, value: GUARDS[end.guard], unit: '' }))
      },
    }
  },
})

const GUARDS = { stands: 'yes', none: 'no', unknown: null } as const

/** Whether a device guards the conductor from that battery: ahead of it, or after it so near the post that only the unfused length counts. */
function guardAt(given: { readonly circuit: Circuit; readonly battery: string; readonly conductor: string }): {
  readonly guard: keyof typeof GUARDS
  readonly missing: readonly string[]
} {
  const { circuit, battery, conductor } = given
  const run = circuit.unfusedRun({ source: battery, conductor })
  if (!run) return { guard: 'stands', missing: [] }
  const others = circuit
    .batteriesLinkedBy(conductor)
    .filter((pair) => pair.includes(battery))
    .map((pair) => (pair[0] === battery ? pair[1] : pair[0]))
  // With nothing between it and the far battery either, no device stands in the link at all.
  if (others.some((other) => circuit.unfusedRun({ source: other, conductor }) !== null)) return { guard: 'none', missing: [] }
  // 33 CFR 183.455(b): 40 in where the conductor is sheathed.
  if (run.metres > 1.016) return { guard: 'none', missing: [] }
  return run.missing.length > 0 ? { guard: 'unknown', missing: run.missing } : { guard: 'stands', missing: [] }
}
