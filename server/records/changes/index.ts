/** Every kind of change. A new kind is a file and a line here; no migration. */
import type { ChangeKind } from './change-kind.ts'
import { decided } from './decided.ts'
import { described } from './described.ts'
import { dueDone } from './due-done.ts'
import { dueDropped } from './due-dropped.ts'
import { dueSet } from './due-set.ts'
import { finished } from './finished.ts'
import { fitted } from './fitted.ts'
import { joined } from './joined.ts'
import { left } from './left.ts'
import { measured } from './measured.ts'
import { noted } from './noted.ts'
import { removed } from './removed.ts'
import { renamed } from './renamed.ts'
import { rerouted } from './rerouted.ts'
import { serviced } from './serviced.ts'
import { swapped } from './swapped.ts'
import { unfinished } from './unfinished.ts'
import { unjoined } from './unjoined.ts'

export const changeKinds = [
  described,
  fitted,
  removed,
  swapped,
  joined,
  unjoined,
  rerouted,
  renamed,
  measured,
  serviced,
  noted,
  unfinished,
  finished,
  dueSet,
  dueDone,
  left,
  dueDropped,
  decided,
] as unknown as readonly ChangeKind<unknown>[]

const byKind = new Map(changeKinds.map((kind) => [kind.kind, kind]))

/** Kinds that alter no state: most of a long journal. */
export const wordKinds: readonly string[] = changeKinds.filter((kind) => kind.isWord).map((kind) => kind.kind)

export function changeKind(kind: string): ChangeKind<unknown> | undefined {
  return byKind.get(kind)
}
