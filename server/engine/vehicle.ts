/** What the check is given: one vehicle's wiring as it stands on one date, as plain readonly types. */

export type Grade = 'datasheet' | 'marked' | 'measured' | 'typical' | 'assumed'
export type EngineState = 'off' | 'idle' | 'running' | 'cranking'

/** One rating: a number, a word, a list of rows (`makeByAmbient`, `delivery`) or a size with its system. */
export type Rating = number | string | boolean | SizeName | readonly Readonly<Record<string, number>>[]
export type SizeName = { readonly system: 'AWG' | 'SAE' | 'mm2'; readonly name: string }
export type Ratings = Readonly<Record<string, Rating>>

export type VehicleFigures = {
  readonly name: string
  readonly systemVoltage_V: number
  readonly maximum_V?: number | undefined
  readonly reserve_h?: number | undefined
  readonly fuelDemand?: Readonly<Record<string, number | string>> | undefined
}

export type Zone = {
  readonly key: string
  readonly name: string
  readonly ambient_degC?: number | undefined
  readonly peak_degC?: number | undefined
  readonly ingress?: string | undefined
  readonly fuel?: string | undefined
  readonly evidence?: Readonly<Record<string, Grade>> | undefined
}

export type Part = {
  readonly key: string
  readonly kind: string
  readonly name: string
  readonly ratings: Ratings
  readonly evidence?: Readonly<Record<string, Grade>> | undefined
}

export type Component = {
  readonly key: string
  readonly name: string
  readonly part: string
  readonly zone?: string | undefined
  readonly length_m?: number | undefined
  readonly parallel?: number | undefined
  readonly bundle?: number | undefined
  readonly setPressure_kPa?: number | undefined
  readonly placement?: string | undefined
  readonly colour?: string | undefined
  readonly stripe?: string | undefined
  readonly number?: string | undefined
  readonly position?: string | undefined
  readonly fittings?: Readonly<Record<string, { readonly terminal?: string; readonly tool?: string }>> | undefined
  readonly unfinished?: string | undefined
}

/** `from` and `to` are `component:terminal`. */
export type Join = { readonly from: string; readonly to: string; readonly resistance_ohm?: number | undefined }

export type Condition = {
  readonly key: string
  readonly name: string
  readonly engine: EngineState
  readonly on?: readonly string[] | undefined
  readonly open?: readonly string[] | undefined
  readonly charge_A?: number | undefined
}

export type VehicleDocument = {
  readonly format: 'loombook-vehicle/1'
  readonly vehicle: VehicleFigures
  readonly asOf?: string | undefined
  readonly zones?: readonly Zone[] | undefined
  readonly parts: readonly Part[]
  readonly components: readonly Component[]
  readonly joins: readonly Join[]
  readonly conditions?: readonly Condition[] | undefined
}
