/** The limit that is foreseen is the one that trying every step finds. */
import fc from 'fast-check'
import { expect, test, vi } from 'vitest'
import { trialOf, trialTerminal } from '../../../server/engine/branch.ts'
import { circuitOf } from '../../../server/engine/circuit-of.ts'
import { type Limit, limitOf, type Tried } from '../../../server/engine/headroom.ts'
import type { Finding } from '../../../server/engine/report.ts'
import { checkCircuit } from '../../../server/engine/rules/check.ts'
import { randomDocument } from './random-documents.ts'

const numRuns = Math.ceil(Number(process.env.LOOMBOOK_RANDOM_DOCUMENTS ?? 500) / 10)
vi.setConfig({ testTimeout: Math.max(60_000, numRuns * 2_000) })
const settings = { seed: Number(process.env.LOOMBOOK_RANDOM_SEED ?? 20261126), numRuns }

/** Doubled until something gives way, then halved: every step of it is tried. */
function everyStep(tryLoad: (current_A: number) => Tried): Limit | null {
  let low_A = 0
  let high_A = 4
  let over: Finding | null = null
  for (; high_A <= 2048; high_A *= 2) {
    over = tryLoad(high_A).over
    if (over) break
    low_A = high_A
  }
  if (!over) return null
  for (let n = 0; n < 12 && high_A - low_A > 0.02; n++) {
    const middle_A = (low_A + high_A) / 2
    const found = tryLoad(middle_A).over
    if (found) {
      high_A = middle_A
      over = found
    } else low_A = middle_A
  }
  return { low_A, high_A, over }
}

test('the limit foreseen is the one that every step finds, on random documents, mostly with far fewer tries', () => {
  let [asked, limited, steps, tries] = [0, 0, 0, 0]
  fc.assert(
    fc.property(randomDocument, fc.nat({ max: 1000 }), (doc, nth) => {
      const circuit = circuitOf(doc)
      const report = checkCircuit(circuit)
      const { key } = doc.components[nth % doc.components.length] as { key: string }
      const terminal = trialTerminal(circuit, key)
      if (terminal === null) return
      const tryLoad = trialOf({ doc, circuit, terminal, report })
      const start = tryLoad(0.001)
      if (start.over) return
      const counts = { steps: 0, tries: 0 }
      const wanted = everyStep((current_A) => {
        counts.steps++
        return tryLoad(current_A)
      })
      const found = limitOf(start, (current_A) => {
        counts.tries++
        return tryLoad(current_A)
      })
      asked++
      // Where nothing gives way there is nothing to foresee.
      if (wanted) {
        limited++
        steps += counts.steps
        tries += counts.tries
      }
      expect(found).toEqual(wanted)
    }),
    settings,
  )
  expect(asked).toBeGreaterThan(numRuns / 5)
  expect(limited).toBeGreaterThan(asked / 3)
  // Random documents lose a rule to what is not known far more often than vehicles do; then the plain search is made.
  expect(tries).toBeLessThan(0.85 * steps)
})

test('a share that grows in a straight line is met in three tries', () => {
  const tried = (current_A: number): Tried => {
    const used = 0.1 + current_A / 20
    const finding = { rule: 'fuse-load', component: 'f1', verdict: used > 1 ? 'over' : 'clear', used, overAbove: 1 } as Finding
    return { over: used > 1 ? finding : null, findings: [finding], solved: 1 }
  }
  const asked: number[] = []
  const limit = limitOf(tried(0.001), (current_A) => {
    asked.push(current_A)
    return tried(current_A)
  })
  // 0.1 + 18 / 20 = 1; halved from between 16 and 32 A, the steps are 1/64 A.
  expect(limit).toMatchObject({ low_A: 18, high_A: 18 + 1 / 64 })
  expect(asked).toHaveLength(3)
})

test('a rule that is over for a stretch and judges no more beyond it is not passed by for a straight limit farther up', () => {
  const tried = (current_A: number): Tried => {
    const straight = { rule: 'fuse-load', component: 'f1', verdict: current_A > 90 ? 'over' : 'clear', used: current_A / 90, overAbove: 1 }
    const verdict = current_A <= 10 ? 'clear' : current_A <= 60 ? 'over' : 'unknown'
    const stretch = {
      rule: 'voltage-drop',
      component: 'l1',
      verdict,
      used: verdict === 'over' ? 2 : verdict === 'clear' ? 0.5 : null,
      overAbove: 1,
    }
    const findings = [straight, stretch] as Finding[]
    return { over: findings.find((finding) => finding.verdict === 'over') ?? null, findings, solved: 1 }
  }
  // Doubled to 16 A, which is over for more than 10 A; halved from between 8 and 16 A, the steps are 1/64 A.
  expect(limitOf(tried(0.001), tried)).toMatchObject({ low_A: 10, high_A: 10 + 1 / 64, over: { rule: 'voltage-drop' } })
})
