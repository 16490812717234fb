/** What a component is called, by the last entry that named it; its key if none did. */
import type { Change } from './contract.ts'

export function componentName(entries: readonly { readonly changes: readonly Change[] }[], key: string): string {
  const names = new Map<string, string>()
  for (const { changes } of entries) for (const change of changes) noteName(names, change)
  return names.get(key) ?? key
}

export function noteName(names: Map<string, string>, change: Change): void {
  if (change.kind === 'fitted') names.set(change.component.key, change.component.name)
  if (change.kind === 'renamed') names.set(change.component, change.name)
  if (change.kind === 'described' && change.component?.name !== undefined) names.set(change.component.key, change.component.name)
}
