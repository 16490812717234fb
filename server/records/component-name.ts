/** What components are called, by the last change that named them. */
import type { Change } from './contract.ts'

export function noteName(names: Map<string, string>, change: Change): void {
  if (change.kind === 'fitted') names.set(change.component.key, change.component.name)
  if (change.kind === 'renamed') names.set(change.component, change.name)
  if (change.kind === 'described' && change.component?.name !== undefined) names.set(change.component.key, change.component.name)
}
