/** The voltages at which every node's currents sum to zero, loads that are not linear among them. */
import { factorStamped, type LoadedWork, residualNorm, stampLoads, stampResistiveLoads, stampWires } from './assembly.ts'
import { solveFactored } from './sparse.ts'
import type { System } from './system.ts'

/**
 * V by unknown, or null where nothing is found. Damped Newton: a step is halved until the residual falls, as the slope −P/V² of a power
 * load can make the matrix indefinite. Without a `start` it begins with the loads open, so that of two solutions the upper is found.
 */
export function newton(system: System, work: LoadedWork, start: Float64Array | null): Float64Array | null {
  const { size } = system.pattern
  let voltages = start ?? linearSolution(system, work, null)
  if (!voltages) return null
  let residual = residualNorm(system, work, voltages)
  for (let step = 0; step < 60; step++) {
    const target = linearSolution(system, work, voltages)
    if (!target) return null
    let share = 1
    let next = target
    let nextResidual = residualNorm(system, work, next)
    while (share > 1e-4 && !(nextResidual <= residual * (1 - 0.01 * share)) && nextResidual > 1e-9) {
      share /= 2
      next = new Float64Array(size)
      for (let n = 0; n < size; n++) next[n] = (voltages[n] as number) + share * ((target[n] as number) - (voltages[n] as number))
      nextResidual = residualNorm(system, work, next)
    }
    let move = 0
    for (let n = 0; n < size; n++) move = Math.max(move, Math.abs((next[n] as number) - (voltages[n] as number)))
    voltages = next
    residual = nextResidual
    if (move < 1e-11 * 100 || (move < 1e-8 && residual < 1e-8)) return residual < 1e-5 ? voltages : null
  }
  return null
}

/** One linear solution, with each load's tangent at `at`; where that is null, only the loads that are resistances. */
function linearSolution(system: System, work: LoadedWork, at: Float64Array | null): Float64Array | null {
  const { pattern } = system
  const values = pattern.values()
  const right = new Float64Array(pattern.size)
  stampWires(system, work, values, right)
  if (at) stampLoads(system, work, at, values, right)
  else stampResistiveLoads(system, work, values)
  return factorStamped(system, values) ? solveFactored(pattern, values, right) : null
}
