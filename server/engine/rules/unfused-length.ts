import { isStarterOrReturn, servesFrom } from '../feed-service.ts'
import type { UnfusedRun } from '../unfused.ts'
import { figure } from './figure.ts'
import { defineRule, type Reading } from './rule.ts'

export const unfusedLength = defineRule({
  id: 'unfused-length',
  title: 'Unfused length',
  why: 'Ahead of the first fuse nothing limits a short but the battery itself: every metre there is a metre that can burn.',
  formula: 'metres of conductor from the battery’s post to this conductor’s far end ≤ 1.016',
  limits: 'Tight above 0.178 m, over above 1.016 m. The feed of a starter is exempt.',
  judgedIn: 'wiring',
  appliesTo: ['conductor'],
  needs: ['length_m of the conductors ahead of the first fuse'],
  sources: [
    { title: '33 CFR 183.455(b)', place: '7 in along the conductor; 40 in if sheathed or enclosed the whole way', grade: 'read' },
    { title: '33 CFR 183.455', place: 'cranking motor feeds exempt', grade: 'memory' },
  ],
  remedy: 'Move the fuse nearer the battery’s post, within 0.178 m where that can be done.',
  read: ({ circuit, component }) => {
    const runs = circuit.sourcesOf(component).flatMap((source) => {
      const run = circuit.kindOf(source) === 'battery' ? circuit.unfusedRun({ source, conductor: component }) : null
      // An alternator's lead is the protection rule's; anything else on the post is live, whether it feeds a load or not.
      return run && (servesFrom({ circuit, source, conductor: component }) || !circuit.isAlternatorLead(component))
        ? [{ source, ...run }]
        : []
    })
    const worst = runs.reduce<(typeof runs)[number] | null>((a, b) => (a && weight(a) >= weight(b) ? a : b), null)
    if (!worst || isStarterOrReturn(circuit, component)) return null
    const { name, length_m } = circuit.component(component)
    return {
      value: worst.metres,
      limit: ENCLOSED_m,
      unit: 'm',
      tightAbove: BARE_m / ENCLOSED_m,
      missing: worst.missing,
      overStands: true,
      grades: ['measured'],
      subject: name,
      statement: `The unfused run from ${circuit.component(worst.source).name} to the far end of ${name} is ${length(worst)}; 0.178 m is allowed, 1.016 m if sheathed all the way.`,
      worked() {
        return [
          { name: 'battery', value: circuit.component(worst.source).name, unit: '' },
          { name: 'from its post to the far end', value: worst.metres, unit: 'm' },
          { name: 'of it this conductor', value: length_m ?? null, unit: 'm' },
        ]
      },
    } satisfies Reading
  },
})

// 33 CFR 183.455(b): 7 in (0.178 m); 40 in (1.016 m) where the conductor is sheathed or enclosed the whole way.
const BARE_m = 0.178
const ENCLOSED_m = 1.016

/** What is over for certain comes first, then what may be longer than is known. */
function weight(run: UnfusedRun): number {
  return run.missing.length > 0 ? Math.max(run.metres, ENCLOSED_m) : run.metres
}

function length(run: UnfusedRun): string {
  return run.missing.length > 0 ? `at least ${figure(run.metres, 'm')} (not known: ${run.missing.join(', ')})` : figure(run.metres, 'm')
}
