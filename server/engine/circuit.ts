/** What rules may ask of a solved vehicle. `network.ts` and `solve.ts` answer; rules never walk the network themselves. */
import type { Fault } from './fault-currents.ts'
import type { UnfusedRun } from './unfused.ts'
import type { Component, Condition, Grade, Part, Rating, VehicleDocument, Zone } from './vehicle.ts'

/** A numeric figure with the grade of the evidence behind it; `typical` names the stand-in when the part states none. */
export type Known = { readonly value: number; readonly grade: Grade; readonly typical?: string }

export type ContactCurrent = {
  /** 'make' (30–87, 87b), 'break' (30–87a), or a switch's out, out2 … */
  readonly contact: string
  readonly current_A: number
  /** loads fed through this contact in this condition */
  readonly loads: readonly string[]
}

export type SolvedCondition = {
  readonly condition: Condition
  readonly solved: boolean
  readonly faults: readonly string[]
  readonly unfed: readonly string[]
  /** volts against the first battery's negative post; null where unfed or not solved. `terminal` is `component:terminal` */
  voltage_V(terminal: string): number | null
  /** whole component, signed from its first terminal to its second; null if it has no two terminals or is not solved */
  current_A(component: string): number | null
  /** rms current of one of the component's parallel conductors (PWM loads by rms), unsigned */
  rms_A(component: string): number | null
  /** unsigned current through one terminal (a way of a block, a pole of a connector, a module's output) */
  terminalCurrent_A(terminal: string): number | null
  /** whether way currents there are split by assumption (loops of zero-ohm joins) */
  terminalAssumed(terminal: string): boolean
  contacts(component: string): readonly ContactCurrent[]
  drop_V(component: string): number | null
  temperature_degC(component: string): number | null
  /** loads of unknown current whose share passes through the component: currents there are "at least" */
  unknownLoads(component: string): readonly string[]
  /** whether any load that is on draws an unknown current */
  readonly hasUnknownLoads: boolean
  /** series elements of unknown resistance on the load's feed or return */
  unknownResistances(load: string): readonly string[]
  isOn(load: string): boolean
  /** whether the relay has to pull in for what is on in this condition */
  works(relay: string): boolean
  /** feed and return volts lost between the load's source and the load, and that source's nominal voltage */
  lossFor(load: string): { readonly feed_V: number; readonly return_V: number; readonly source: string } | null
  /** the alternator: regime it settled in, what it gives, and what it would give unlimited at its set-point */
  readonly alternators: readonly {
    readonly component: string
    readonly regime: 'held' | 'floating' | 'discharging'
    readonly gives_A: number
    readonly wanted_A: number
    readonly limit_A: number | null
  }[]
}

export type Circuit = {
  readonly doc: VehicleDocument
  /** the document's conditions, or the ones made where it has none */
  readonly conditions: readonly SolvedCondition[]
  readonly conditionsAreMade: boolean
  /** an answer that several rules ask for, worked out once for each component */
  keep<T>(question: string, component: string, answer: () => T): T
  component(key: string): Component
  part(component: string): Part
  kindOf(component: string): string
  componentsOf(...kinds: readonly string[]): readonly string[]
  rawRating(component: string, name: string): Rating | null
  /** numeric rating; a published typical figure stands in where `reference` gives one (graded typical) */
  rating(component: string, name: string): Known | null
  /** zone ambient, typical by zone where the owner gives none and the zone's kind is known; null otherwise */
  ambient_degC(component: string): Known | null
  crossSection_mm2(conductor: string): Known | null
  zoneOf(component: string): Zone | null
  /** nominal volts of the source that feeds the component, else the vehicle's */
  nominal_V(component: string): number
  /** topology, everything closed: is the conductor on the feed side of some source (not in a return) */
  isFeed(conductor: string): boolean
  isReturn(conductor: string): boolean
  /** terminals (`component:terminal`) of the component that a join names */
  waysOf(component: string): readonly string[]
  /** what joins tie to the component: its own terminal and the one at the other end */
  joinsOf(component: string): readonly { readonly own: string; readonly other: string }[]
  /** loads behind the joins at one terminal */
  loadsBehindWay(terminal: string): readonly string[]
  /** loads on whose simple source-to-load path (feed or return) the component lies */
  loadsBehind(component: string): readonly string[]
  /** components on the feed path of a load, source first; and on its return path, load first */
  feedOf(load: string): readonly string[]
  returnOf(load: string): readonly string[]
  /** the same feed, from one source; empty where that source does not reach the load */
  feedFrom(given: { readonly source: string; readonly load: string }): readonly string[]
  /** the return to one source, load first */
  returnTo(given: { readonly source: string; readonly load: string }): readonly string[]
  hasReturn(load: string): boolean
  /** grades of the figures behind the volts lost on the load's way there and back */
  resistanceGrades(load: string): readonly Grade[]
  /** sources (batteries, alternators, chargers, converters' outputs) that can feed the component */
  sourcesOf(component: string): readonly string[]
  /** fuses and breakers on simple paths between that source and the component, nearest the source first */
  devicesBetween(source: string, component: string): readonly string[]
  /** metres from a battery's post to the conductor's far end where some way crosses no fuse or breaker; else null */
  unfusedRun(given: { readonly source: string; readonly conductor: string }): UnfusedRun | null
  /** pairs of batteries between whose positive posts the component lies */
  batteriesLinkedBy(component: string): readonly (readonly [string, string])[]
  /** whether it lies between an alternator's positive post and a battery's */
  isAlternatorLead(component: string): boolean
  /** the relay, switch or module nearest the load in its feed, else in its return; '' where there is none */
  contactOf(load: string): string
  /** a bolted short at the conductor's far end (and its near one), that battery alone, hot (see `fault-currents.ts`); null where it does not feed it */
  faultAt(given: { readonly source: string; readonly conductor: string }): Fault | null
  /** the most that a short just past a fuse or breaker drives through it, cold, all batteries together */
  prospectiveAt(device: string): { readonly current_A: number; readonly missing: readonly string[] } | null
  /** fuses and breakers that stand alone in series ahead of the component, nearest the source first; itself left out */
  devicesAhead(source: string, component: string): readonly string[]
  /** other fuses and breakers tied between the same two nodes */
  devicesBeside(device: string): readonly string[]
  /** whether nothing lies beside the way from that source to the component: every test current passes it and the devices ahead whole */
  isPlainFeed(given: { readonly source: string; readonly component: string }): boolean
  /** the same of a load's whole loop, there and back */
  isPlainLoop(given: { readonly source: string; readonly load: string }): boolean
  /** whether a part states this rating at all */
  isStated(rating: string): boolean
  /**
   * One ampere drawn at the far end of `conductor` (seen from `source`) with all loads removed and only that source feeding:
   * unsigned share of it in each component asked for. Ratios of these are what conductor-protection uses.
   */
  testCurrent(given: { readonly source: string; readonly conductor: string }): ((component: string) => number) | null
  /** the same for a load's return: one ampere drawn at the load */
  testCurrentAtLoad(given: { readonly source: string; readonly load: string }): ((component: string) => number) | null
  /** on the simple path of a `starter` load ahead of any fuse */
  isStarterPath(conductor: string): boolean
  /** components touched by changes whose wiring is not entered, on the component's feed or return paths (their `unfinished` texts) */
  unfinishedNear(component: string): readonly string[]
}
