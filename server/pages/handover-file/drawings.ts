/**
 * HOOK: the sheets of the vehicle's wiring drawing, put before the list of wires. Each is an SVG that stands by itself (its own `xmlns`,
 * width and height, black on white, no style sheet). Until a drawing is made here there are none, and nothing is said of them.
 */
import type { Facts } from './facts.ts'

export function drawingsOf(_given: Pick<Facts, 'vehicle' | 'document' | 'report' | 'circuit'>): Facts['drawings'] {
  return []
}
