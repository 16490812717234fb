/** What a component carries, whether it has two ends or is one node. */
import type { Circuit, SolvedCondition } from './circuit.ts'

/** A, signed for a component of two ends; for a shared node half the sum of its ways' currents, since what enters it leaves it. Null if not solved. */
export function carried_A(
  solved: SolvedCondition | undefined,
  given: {
    readonly circuit: Pick<Circuit, 'waysOf'> & { readonly network: { readonly oneNode: ReadonlyMap<string, unknown> } }
    readonly component: string
  },
): number | null {
  const { circuit, component } = given
  if (!solved?.solved) return null
  if (!circuit.network.oneNode.has(component)) return solved.current_A(component)
  let sum = 0
  for (const way of circuit.waysOf(component)) sum += solved.terminalCurrent_A(way) ?? 0
  return sum / 2
}
