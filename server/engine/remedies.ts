/** The smallest standard change that clears a finding, found by asking all the rules again with that change made. Long because it is one list of levers. */
import { circuitOf, type SolvedCircuit } from './circuit-of.ts'
import type { Finding, Report } from './report.ts'
import { checkCircuit, findingAt, findingsOf, RANK } from './rules/check.ts'
import { contactClasses_A, crossSections_mm2, fuseRatings_A } from './tables/standard-sizes.ts'
import type { Component, Part, Ratings, VehicleDocument } from './vehicle.ts'

type Options = { readonly conductorTemperature_degC?: number | undefined }

/** The report on a vehicle, the remedy of each tight or over finding worked out where one standard size clears it. */
export function checkWithRemedies(doc: VehicleDocument, options: Options = {}): Report {
  const circuit = circuitOf(doc, options)
  const report = checkCircuit(circuit)
  const findings = report.findings.map((finding) => ({
    ...finding,
    remedy: remedyOf({ doc, options, circuit, finding, before: report.findings }),
  }))
  return { ...report, findings }
}

/** What to do about one finding of a report: the smallest standard size that clears it and makes nothing else worse, else its rule's own advice. */
export function remedyOf(given: {
  readonly doc: VehicleDocument
  readonly options?: Options
  readonly circuit: SolvedCircuit
  readonly finding: Finding
  readonly before: readonly Finding[]
}): string {
  const { doc, options = {}, circuit, finding, before } = given
  // What fails with no figure is not cured by another size.
  if ((finding.verdict !== 'over' && finding.verdict !== 'tight') || finding.value === null) return finding.remedy
  const levers = leversOf(circuit, finding)
  if (levers.every((lever) => lever.trials.length === 0)) return finding.remedy
  return (
    firstThatClears({ doc, options, levers, finding, before }) ??
    `${finding.remedy} No standard size of one part alone clears it without harm elsewhere.`
  )
}

/** One thing that can be made larger or smaller, its standard sizes in the order they are tried. */
type Lever = { readonly component: string; readonly trials: readonly { readonly says: string; readonly ratings: Ratings }[] }

function firstThatClears(given: {
  readonly doc: VehicleDocument
  readonly options: Options
  readonly levers: readonly Lever[]
  readonly finding: Finding
  readonly before: readonly Finding[]
}): string | null {
  const { doc, options, levers, finding, before } = given
  const standing = new Map(before.map((one) => [`${one.rule} ${one.component}`, one]))
  for (const lever of levers) {
    for (const trial of lever.trials) {
      const circuit = circuitOf(withRatings(doc, lever.component, trial.ratings), options)
      const own = findingAt({ circuit, rule: finding.rule, component: finding.component })
      // A rule that no longer applies has not been met.
      if (own?.verdict !== 'clear') continue
      if (
        findingsOf(circuit).every((one) =>
          isNoWorse({ circuit, device: lever.component, after: one, was: standing.get(`${one.rule} ${one.component}`) }),
        )
      )
        return trial.says
    }
  }
  return null
}

/** No verdict worse, nothing already beyond its limit used more; and what protects wires behind a changed device is known to. */
function isNoWorse(given: {
  readonly circuit: SolvedCircuit
  readonly device: string
  readonly after: Finding
  readonly was: Finding | undefined
}): boolean {
  const { circuit, device, after, was } = given
  // How well a figure is known is not made worse by another size.
  if (after.rule === 'rating-evidence') return true
  if (RANK[after.verdict] > RANK[was?.verdict ?? 'clear']) return false
  if (after.verdict === 'clear') return true
  if (after.used !== null && was?.used !== undefined && was.used !== null && after.used > was.used * (1 + 1e-6)) return false
  const isProtection = ['conductor-protection', 'fault-clears', 'fault-withstand', 'return-path'].includes(after.rule)
  return (
    !isProtection || !circuit.sourcesOf(after.component).some((source) => circuit.devicesBetween(source, after.component).includes(device))
  )
}

/** What can be changed for a rule's finding, the likeliest first. */
function leversOf(circuit: SolvedCircuit, finding: Finding): readonly Lever[] {
  const { rule, component } = finding
  switch (rule) {
    case 'conductor-ampacity':
    case 'small-conductor':
      return [thicker(circuit, component)]
    case 'fault-withstand':
    case 'fault-clears':
    case 'conductor-protection':
      return [...devicesAhead(circuit, component).map((device) => smaller(circuit, device)), thicker(circuit, component)]
    case 'voltage-drop':
    case 'load-voltage':
      return conductorsByDrop(circuit, finding).map((conductor) => thicker(circuit, conductor))
    case 'ground-offset':
    case 'return-path':
      return conductorsByDrop(circuit, finding, 'return').map((conductor) => thicker(circuit, conductor))
    case 'fuse-load':
    case 'fuse-inrush':
      return [larger(circuit, component)]
    case 'fuse-order':
      return [smaller(circuit, component)]
    case 'contact-load':
    case 'contact-inrush':
      return [stronger(circuit, component)]
    default:
      return []
  }
}

function devicesAhead(circuit: SolvedCircuit, conductor: string): readonly string[] {
  return [...new Set(circuit.sourcesOf(conductor).flatMap((source) => circuit.devicesAhead(source, conductor)))].reverse()
}

/** Conductors on a load's way, the one that loses most first; no more than three. */
function conductorsByDrop(circuit: SolvedCircuit, finding: Finding, side: 'both' | 'return' = 'both'): readonly string[] {
  const solved = circuit.conditions.find((one) => one.condition.key === finding.condition)
  const load = finding.component
  const way = [...(side === 'both' ? circuit.feedOf(load) : []), ...circuit.returnOf(load)]
  const drop_V = (conductor: string) => Math.abs(solved?.drop_V(conductor) ?? 0)
  return way
    .filter((key) => circuit.kindOf(key) === 'conductor')
    .sort((a, b) => drop_V(b) - drop_V(a))
    .slice(0, 3)
}

function thicker(circuit: SolvedCircuit, conductor: string): Lever {
  const own_mm2 = circuit.crossSection_mm2(conductor)?.value ?? 0
  const { name } = circuit.component(conductor)
  const { size: _size, resistance20_ohmPerM: _stated, ...rest } = circuit.part(conductor).ratings
  return {
    component: conductor,
    trials: crossSections_mm2
      .filter((area_mm2) => area_mm2 > own_mm2 * (1 + 1e-9))
      .slice(0, 6)
      .map((area_mm2) => ({
        says: `${name} in ${area_mm2} mm² clears it, and makes nothing else worse.`,
        ratings: { ...rest, crossSection_mm2: area_mm2 },
      })),
  }
}

function larger(circuit: SolvedCircuit, device: string): Lever {
  const own_A = circuit.rating(device, 'rated_A')?.value ?? 0
  return fuseTrials(circuit, device, fuseRatings_A.filter((rating_A) => rating_A > own_A).slice(0, 5))
}

function smaller(circuit: SolvedCircuit, device: string): Lever {
  const own_A = circuit.rating(device, 'rated_A')?.value ?? 0
  return fuseTrials(
    circuit,
    device,
    fuseRatings_A
      .filter((rating_A) => rating_A < own_A)
      .slice(-5)
      .reverse(),
  )
}

function fuseTrials(circuit: SolvedCircuit, device: string, ratings_A: readonly number[]): Lever {
  const { name } = circuit.component(device)
  // The resistance goes with the rating.
  const { resistance_ohm: _own, ...rest } = circuit.part(device).ratings
  return {
    component: device,
    trials: ratings_A.map((rated_A) => ({
      says: `${rated_A} A at ${name} clears it, and makes nothing else worse.`,
      ratings: { ...rest, rated_A },
    })),
  }
}

/** A relay or switch of the next class, its other currents and its curve in the same proportion. */
function stronger(circuit: SolvedCircuit, contact: string): Lever {
  const { ratings } = circuit.part(contact)
  const { name } = circuit.component(contact)
  const figure = circuit.kindOf(contact) === 'switch' ? 'rated_A' : 'make_A'
  const own_A = ratings[figure]
  if (typeof own_A !== 'number') return { component: contact, trials: [] }
  return {
    component: contact,
    trials: contactClasses_A
      .filter((class_A) => class_A > own_A)
      .slice(0, 5)
      .map((class_A) => ({
        says: `One of the ${class_A} A class at ${name}, with its other currents in proportion, clears it and makes nothing else worse.`,
        ratings: { ...ratings, ...scaled(ratings, class_A / own_A), [figure]: class_A },
      })),
  }
}

function scaled(ratings: Ratings, factor: number): Ratings {
  const found: Record<string, Ratings[string]> = {}
  for (const name of ['break_A', 'inrush_A', 'holder_A']) {
    const value = ratings[name]
    if (typeof value === 'number') found[name] = value * factor
  }
  const curve = ratings.makeByAmbient
  if (Array.isArray(curve)) found.makeByAmbient = curve.map((row) => ({ ...row, current_A: row.current_A * factor }))
  return found
}

/** The document with one component's part replaced by one of other ratings. */
function withRatings(doc: VehicleDocument, component: string, ratings: Ratings): VehicleDocument {
  const before = doc.components.find((one) => one.key === component) as Component
  const part = doc.parts.find((one) => one.key === before.part) as Part
  const { evidence } = part
  const trial: Part = {
    ...part,
    key: 'trial-size',
    ratings,
    evidence: { ...evidence, rated_A: 'datasheet', crossSection_mm2: 'datasheet', make_A: 'datasheet' },
  }
  return {
    ...doc,
    parts: [...doc.parts, trial],
    components: doc.components.map((one) => (one.key === component ? { ...one, part: trial.key } : one)),
  }
}
