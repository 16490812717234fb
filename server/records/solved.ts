/** What pages ask of a solved circuit, worked out once for each document that is in force. */
import { branchFacts } from '../engine/branch.ts'
import { circuitOf, type SolvedCircuit } from '../engine/circuit-of.ts'
import { feedTree } from '../engine/feed-tree.ts'
import { remedyOf } from '../engine/remedies.ts'
import type { BranchFacts, FeedRow, Finding, Report, VehicleDocument } from './engine-types.ts'

type Kept = {
  readonly feeds: Map<number, readonly FeedRow[]>
  readonly branches: Map<string, BranchFacts>
  readonly remedies: Map<string, string>
}

/** As long as a document is held, which the head of each vehicle is; a new entry makes a new document. */
const kept = new WeakMap<VehicleDocument, Kept>()
/** The circuits themselves are large: only the last few. */
const circuits: { readonly document: VehicleDocument; readonly circuit: SolvedCircuit }[] = []
const mostCircuits = 4

/** The rows of the feed ledger in the condition numbered `condition`. */
export function feedsOf(document: VehicleDocument, condition: number): readonly FeedRow[] {
  const { feeds } = keptOf(document)
  const known = feeds.get(condition)
  if (known) return known
  const rows = feedTree(solvedOf(document), condition)
  feeds.set(condition, rows)
  return rows
}

/** The facts of one component's branch. */
export function branchOf(judged: { readonly document: VehicleDocument; readonly report: Report }, component: string): BranchFacts {
  const { document, report } = judged
  const { branches } = keptOf(document)
  const known = branches.get(component)
  if (known) return known
  const facts = branchFacts(document, component, solvedOf(document), report)
  branches.set(component, facts)
  return facts
}

/** A long list is answered without keeping anybody waiting: only so many of its remedies are worked out. */
const mostRemedies = 24

/** The same report, with the smallest change that clears each finding asked for: all the rules are asked again, so only for those that are shown. */
export function withRemedies<T extends { readonly document: VehicleDocument; readonly report: Report }>(
  judged: T,
  isShown: (finding: Finding) => boolean = () => true,
): T {
  const { document, report } = judged
  const { remedies } = keptOf(document)
  let worked = 0
  const findings = report.findings.map((finding) => {
    if ((finding.verdict !== 'over' && finding.verdict !== 'tight') || !isShown(finding) || worked >= mostRemedies) return finding
    worked++
    const key = `${finding.rule} ${finding.component}`
    const remedy = remedies.get(key) ?? remedyOf({ doc: document, circuit: solvedOf(document), finding, before: report.findings })
    remedies.set(key, remedy)
    return { ...finding, remedy }
  })
  return { ...judged, report: { ...report, findings } }
}

export function solvedOf(document: VehicleDocument): SolvedCircuit {
  const known = circuits.find((one) => one.document === document)
  if (known) return known.circuit
  const circuit = circuitOf(document)
  if (circuits.length >= mostCircuits) circuits.shift()
  circuits.push({ document, circuit })
  return circuit
}

function keptOf(document: VehicleDocument): Kept {
  const known = kept.get(document)
  if (known) return known
  const made: Kept = { feeds: new Map(), branches: new Map(), remedies: new Map() }
  kept.set(document, made)
  return made
}
