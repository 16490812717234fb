/**
 * Every finding of the check on the demonstration vehicles, judged as somebody who wires vehicles would: is the verdict right, and why.
 * Past 200 lines: it is a list. Figures are worked here by hand from the vehicles' data, the printed tables and Ohm's law alone.
 */
import type { Verdict } from '../../../server/engine/report.ts'

export type NotClear = {
  readonly rule: string
  readonly component: string
  readonly verdict: Verdict
  readonly why: string
  /** by hand; absent where the rule compares no figures */
  readonly value?: number
  readonly limit?: number
}

export type Clear = {
  readonly rule: string
  /** keys, parted by blanks */
  readonly components: string
  readonly why: string
  /** which uses most of its limit, and what share of it by hand; absent where the rule compares no figures */
  readonly nearest?: readonly [component: string, used: number]
}

export type JudgedVehicle = {
  readonly counts: Readonly<Record<Verdict, number>>
  readonly notClear: readonly NotClear[]
  readonly clear: readonly Clear[]
}

/** Ω of copper of that length and size at that temperature: 0.017241 Ω·mm²/m at 20 °C and 0.393 % a kelvin (IEC 60028, memory). */
const wire = (length_m: number, crossSection_mm2: number, at_degC: number) =>
  ((0.017241 * length_m) / crossSection_mm2) * (1 + 0.00393 * (at_degC - 20))
/** Ω of a link that drops 0.1 V at its rated current; cold 0.6 of it (data sheets as transcribed, memory). */
const fuse = (rated_A: number) => 0.1 / rated_A
const coldFuse = (rated_A: number) => 0.6 * fuse(rated_A)

// 33 CFR 183.425 Table 5, 105 °C column (read), log–log between the sizes beside, × √((105 − Ta)/75) (NEC 310.15(B)(2), read).
// 2.5 mm²: 14 AWG 35 A, 12 AWG 45 A: 38.7 A. 6 mm²: 10 AWG 60 A, 8 AWG 80 A: 65.1 A. 10 mm²: 8 AWG 80 A, 6 AWG 120 A: 93.5 A.
// 25 mm²: 4 AWG 160 A, 3 AWG 180 A: 174.2 A. 50 mm²: 1 AWG 245 A, 0 AWG 285 A: 272.8 A.
const AMPACITY_2_5mm2_85 = 38.7 * Math.sqrt(20 / 75)
const AMPACITY_6mm2_85 = 65.1 * Math.sqrt(20 / 75)
const AMPACITY_10mm2_85 = 93.5 * Math.sqrt(20 / 75)
const AMPACITY_10mm2_60 = 93.5 * Math.sqrt(45 / 75)
const AMPACITY_25mm2_60 = 174.2 * Math.sqrt(45 / 75)
const AMPACITY_50mm2_60 = 272.8 * Math.sqrt(45 / 75)

// Bramble, cold: the starter battery through its lead, main fuse and strap beside the house battery through the whole link.
const FRONT_ohm = 0.0075 + wire(0.65, 50, 20) + coldFuse(200) + wire(0.4, 50, 20)
const HOUSE_ohm = 0.009 + wire(3.85, 25, 20) + 2 * coldFuse(100) + 0.0005 + wire(0.5, 25, 20)
const FRONT_AND_HOUSE_ohm = (FRONT_ohm * HOUSE_ohm) / (FRONT_ohm + HOUSE_ohm)
// Warm, engine off: 2 × 4.4 + 2.2 + 6 A and coils of 90, 100 and 14 Ω at 12.4 V divide over the two ways.
const WARM_FRONT_ohm = 0.0075 + wire(0.65, 50, 60) + fuse(200) + wire(0.4, 50, 60)
const WARM_HOUSE_ohm = 0.009 + wire(3.85, 25, 60) + 2 * fuse(100) + 0.0005 + wire(0.5, 25, 60)
const PARKED_A = ((17 + 12.4 / 90 + 12.4 / 100 + 12.4 / 14) * WARM_HOUSE_ohm) / (WARM_FRONT_ohm + WARM_HOUSE_ohm)
// Cranking: starter 220 A and pump 6 A on 7.5 mΩ; the battery strap lifts the frame.
const START_V = 12.6 - 226.1 * 0.0075
const START_LIFT_V = 226.1 * wire(0.4, 50, 60)
// 7.2 V at 20 °C, of a coil at 85 °C, with a tenth to spare.
const PICK_UP_85_V = (1.1 * 7.2 * (234.5 + 85)) / 254.5

// Wren: 8.8 + 18 + 2 + 8 A and two coils of 90 Ω at 14.1 V running, 12.1 V stopped.
const WREN_running_A = 36.8 + (2 * 14.1) / 90
const WREN_off_A = 36.8 + (2 * 12.1) / 90
// What all its loads share: 3.15 m of lead, the main fuse, the front strap and the battery strap.
const WREN_SHARED_V = WREN_off_A * (wire(3.15, 25, 61) + fuse(100) + wire(0.3, 10, 72) + wire(0.4, 25, 61))

export const findings: Readonly<Record<string, JudgedVehicle>> = {
  Bramble: {
    counts: { over: 0, tight: 2, unknown: 0, clear: 529 },
    notClear: [
      {
        rule: 'fuse-breaking',
        component: 'fuse-blower',
        verdict: 'tight',
        value: 14.2 / (FRONT_AND_HOUSE_ohm + coldFuse(20)) / 2,
        limit: 1000,
        why: 'Agreed: 8.1 mΩ in all stand between two batteries and a short at F7, some 1750 A of which half counts behind the main fuse; a 20 A blade is near what it can break, a bolted strip is not.',
      },
      {
        rule: 'charging-balance',
        component: 'alternator',
        verdict: 'tight',
        value: 93.2 + 12.25 + 12.5 + 2.05,
        limit: 140,
        why: 'Agreed: motors and lamps 93.2 A, light bar 12.3 A, what hangs on the house block and the radio 12.5 A, coils 2 A; with the compressor running too, a seventh is left to charge two batteries.',
      },
    ],
    clear: [
      {
        rule: 'battery-link',
        components: 'block-lead house-lead link-a link-b main-lead',
        why: 'Right: a fuse stands within 15 cm of either post, so a short in the long lead to the bed is cut off from both ends.',
      },
      {
        rule: 'battery-reserve',
        components: 'battery house',
        nearest: ['battery', 1.5 / (10 * (80 / (PARKED_A * 20)) ** 1.3)],
        why: 'Right: 18.2 A of lamps, pump and coils, of which the starter battery with the shorter way gives 11.6 A: 2.5 h to half its charge, 1.5 h asked for; the house battery lasts 7 h.',
      },
      {
        rule: 'block-load',
        components: 'block ground-bay ground-cabin ground-rear house-block supply',
        nearest: ['block', 120 / 250],
        why: 'Right: 120 A on a bar of 250 A, a quarter of 200 A on the busiest ground stud.',
      },
      {
        rule: 'coil-pick-up',
        components: 'contactor r1 r2 r3 r4 r5 r7 r8',
        nearest: ['r5', PICK_UP_85_V / (START_V - START_LIFT_V - 0.007)],
        why: 'Right: while cranking the pump relay gets 10.8 V and wants 9.94 V in the hot bay; the others are judged with the engine stopped or running and have more. The contactor wants 11.05 V of 12.4 V.',
      },
      {
        rule: 'coil-suppression',
        components: 'contactor r1 r2 r3 r4 r5 r7 r8',
        why: 'Right: resistors, and a Zener diode at the contactor; no plain diode that would slow a contact, no bare coil beside the radio.',
      },
      {
        rule: 'conductor-ampacity',
        components: `
          back-bar back-blower back-cab-lamp back-compressor back-dip-left back-dip-right back-fridge back-fuel-pump back-heater
          back-horn back-main-left back-main-right back-radio back-sockets back-tail back-wipers back-work-left back-work-right
          battery-strap block-lead charge-lead coil-back-r1 coil-back-r2 coil-back-r3 coil-back-r4 coil-back-r5 coil-back-r7
          coil-back-r8 coil-link coil-link-back coil-r1 coil-r2 coil-r3 coil-r4 coil-r5 coil-r7 coil-r8 engine-strap feed-bar
          feed-blower feed-cab-lamp feed-compressor feed-dip-left feed-dip-right feed-fridge feed-fuel-pump feed-heater
          feed-horn feed-main-left feed-main-right feed-radio feed-sockets feed-tail feed-wipers feed-work-left feed-work-right
          house-bar house-feed house-lead house-strap link-a link-b main-lead starter-lead strap-bay strap-cabin strap-rear
          supply-lead supply-link supply-r1 supply-r2 supply-r3 supply-r4 supply-r5 supply-r7 supply-r8 to-r1 to-r2 to-r3 to-r4
          to-r5 to-r7 to-r8`,
        nearest: ['engine-strap', 120 / AMPACITY_50mm2_60],
        why: 'Right: the alternator’s 120 A in 50 mm² along the wing, out of the bay’s heat, use 57 %; no branch wire passes half of what it bears.',
      },
      {
        rule: 'conductor-protection',
        components: `
          coil-link coil-r1 coil-r2 coil-r3 coil-r4 coil-r5 coil-r7 coil-r8 feed-bar feed-blower feed-cab-lamp feed-compressor
          feed-dip-left feed-dip-right feed-fridge feed-fuel-pump feed-heater feed-horn feed-main-left feed-main-right
          feed-radio feed-sockets feed-tail feed-wipers feed-work-left feed-work-right house-bar link-a link-b
          supply-lead supply-link supply-r1 supply-r2 supply-r3 supply-r4 supply-r5 supply-r7 supply-r8 to-r1 to-r2
          to-r3 to-r4 to-r5 to-r7 to-r8`,
        nearest: ['to-r7', 30 / AMPACITY_6mm2_85],
        why: 'Right: 6 mm² at 85 °C bears 33.6 A behind a 30 A strip, the least margin of all; 10 mm² bears 48 A behind 40 A.',
      },
      {
        rule: 'contact-inrush',
        components: 'contactor r1 r2 r3 r4 r5 r7 r8',
        nearest: ['r2', (2 * 46) / 120],
        why: 'Right: two cold main-beam lamps of ten times 4.6 A on a relay that makes 120 A; the work lamps make 76 A on 100 A, as measured.',
      },
      {
        rule: 'contact-load',
        components: 'contactor r1 r2 r3 r4 r5 r7 r8 switch-link switch-r1 switch-r2 switch-r3 switch-r4 switch-r5 switch-r7 switch-r8',
        nearest: ['r7', 12 / 20],
        why: 'Right, and the story’s end: with the light bar on its own relay R7 carries two lamps of 6 A on 20 A; no other contact is used by half.',
      },
      {
        rule: 'fault-clears',
        components: `
          coil-link coil-r1 coil-r2 coil-r3 coil-r4 coil-r5 coil-r7 coil-r8 feed-bar feed-blower feed-cab-lamp feed-compressor
          feed-dip-left feed-dip-right feed-fridge feed-fuel-pump feed-heater feed-horn feed-main-left feed-main-right
          feed-radio feed-sockets feed-tail feed-wipers feed-work-left feed-work-right house-bar link-a link-b
          supply-lead supply-link supply-r1 supply-r2 supply-r3 supply-r4 supply-r5 supply-r7 supply-r8 to-r1 to-r2
          to-r3 to-r4 to-r5 to-r7 to-r8`,
        nearest: ['link-b', 5 / 5],
        why: 'Right: worst is the starter battery alone through the whole link, 551 A on a 100 A strip, past its 350 % row, whose longest time is the 5 s allowed; branch fuses end theirs in 0.1 to 1 s.',
      },
      {
        rule: 'fault-withstand',
        components: `
          coil-link coil-r1 coil-r2 coil-r3 coil-r4 coil-r5 coil-r7 coil-r8 feed-bar feed-blower feed-cab-lamp feed-compressor
          feed-dip-left feed-dip-right feed-fridge feed-fuel-pump feed-heater feed-horn feed-main-left feed-main-right
          feed-radio feed-sockets feed-tail feed-wipers feed-work-left feed-work-right house-bar link-a link-b
          supply-lead supply-link supply-r1 supply-r2 supply-r3 supply-r4 supply-r5 supply-r7 supply-r8 to-r1 to-r2
          to-r3 to-r4 to-r5 to-r7 to-r8`,
        nearest: ['link-b', (600 ** 2 * 5) / (134.6 * 25) ** 2],
        why: 'Right: from 551 A at its end to more than 600 A at its start, worst just under the 600 A of the 100 A strip’s 1 s row: 600 A for 5 s, 1.8 million A²s of the 11.3 million of 25 mm² (k = 134.6 from 105 to 250 °C).',
      },
      {
        rule: 'fuse-breaking',
        components: `
          fuse-bar fuse-cab-lamp fuse-compressor fuse-dip-left fuse-fridge fuse-fuel-pump fuse-heater fuse-horn fuse-main-left
          fuse-radio fuse-sockets fuse-supply fuse-tail fuse-wipers fuse-work-left house-fuse link-front link-rear main-fuse`,
        nearest: ['fuse-fuel-pump', 14.2 / (FRONT_AND_HOUSE_ohm + coldFuse(15)) / 2 / 1000],
        why: 'Right by a little: 15 A blades add 4 mΩ of their own, so half of 1560 A counts, 780 of 1000 A; strips of 6000 A stand where the short is larger.',
      },
      {
        rule: 'fuse-inrush',
        components: `
          fuse-bar fuse-blower fuse-cab-lamp fuse-compressor fuse-dip-left fuse-fridge fuse-fuel-pump fuse-heater fuse-horn
          fuse-main-left fuse-radio fuse-sockets fuse-supply fuse-tail fuse-wipers fuse-work-left house-fuse link-front
          link-rear main-fuse`,
        nearest: ['fuse-main-left', (92 ** 2 * 0.1) / 3 / (2.0625 * 15 ** 2)],
        why: 'Right: 282 A²s against the 464 A²s that melt a 15 A blade, as generations of headlamp fuses show; motors and input capacitors stay far below.',
      },
      {
        rule: 'fuse-load',
        components: `
          fuse-bar fuse-blower fuse-cab-lamp fuse-compressor fuse-dip-left fuse-fridge fuse-fuel-pump fuse-heater fuse-horn
          fuse-main-left fuse-radio fuse-sockets fuse-supply fuse-tail fuse-wipers fuse-work-left house-fuse link-front
          link-rear main-fuse`,
        nearest: ['fuse-compressor', 22 / (40 * 0.75)],
        why: 'Right by a little: a 40 A strip keeps 30 A at 85 °C and the compressor takes 22; blades keep 91 % there and none passes 68 %. The link carries 17 A now that it is open while cranking.',
      },
      {
        rule: 'fuse-order',
        components: 'fuse-cab-lamp fuse-fridge fuse-heater fuse-sockets',
        nearest: ['fuse-fridge', (2 * 20) / 100],
        why: 'Right: the house main fuse is five times H1 and H4. Fuses of block B stand behind a main fuse that is part of the link, and are not judged here.',
      },
      {
        rule: 'fuse-placing',
        components: `
          fuse-bar fuse-blower fuse-cab-lamp fuse-compressor fuse-dip-left fuse-fridge fuse-fuel-pump fuse-heater fuse-horn
          fuse-main-left fuse-radio fuse-sockets fuse-supply fuse-tail fuse-wipers fuse-work-left house-fuse link-front
          link-rear main-fuse`,
        why: 'Right: every fuse stands alone in a feed, none in a return.',
      },
      {
        rule: 'ground-offset',
        components: 'bar cab-lamp fridge radio sockets',
        nearest: ['bar', (46 * wire(0.3, 25, 62) + 120 * wire(0.4, 50, 74)) / 0.1],
        why: 'Right: the cabin strap and the engine strap lift the zero by 31 of 100 mV; radio and sockets will not hum.',
      },
      {
        rule: 'load-voltage',
        components: 'fridge fuel-pump',
        nearest: [
          'fuel-pump',
          10 / (START_V - START_LIFT_V - 6 * (0.0008 + fuse(15) + 0.003 + wire(0.3, 4, 87) + wire(2.6, 4, 62) + wire(0.6, 4, 62))),
        ],
        why: 'Right, and the nearest thing to a worry: 220 A pull the battery down to 10.9 V and the pump still gets 10.7 of the 10 V it needs; an older battery would change that. The fridge has a quarter to spare.',
      },
      {
        rule: 'rated-voltage',
        components: `
          contactor fuse-bar fuse-blower fuse-cab-lamp fuse-compressor fuse-dip-left fuse-fridge fuse-fuel-pump fuse-heater
          fuse-horn fuse-main-left fuse-radio fuse-sockets fuse-supply fuse-tail fuse-wipers fuse-work-left house-fuse
          link-front link-rear main-fuse r1 r2 r3 r4 r5 r7 r8 switch-link switch-r1 switch-r2 switch-r3 switch-r4 switch-r5
          switch-r7 switch-r8`,
        nearest: ['contactor', 16 / 16],
        why: 'Right: relays marked 16 V meet the highest voltage of a 12 V vehicle exactly; fuses and switches are 32 V parts.',
      },
      {
        rule: 'rating-evidence',
        components: 'heater',
        nearest: [
          'heater',
          (120 * wire(1.2, 50, 74) +
            17.24 * (3 * fuse(100) + 0.0005 + wire(4.3, 25, 61)) +
            8 * (fuse(20) + wire(1.8, 4, 52) + wire(0.6, 4, 52)) +
            46 * wire(0.3, 25, 62) +
            120 * wire(0.4, 50, 74)) /
            1.2 /
            0.6,
        ],
        why: 'Right: the heater’s 8 A are an assumption nobody has measured, but its drop uses 29 % of what is allowed, far from the 60 % where it would matter.',
      },
      {
        rule: 'return-path',
        components: `
          bar blower cab-lamp compressor dip-left dip-right fridge fuel-pump heater horn main-left main-right radio sockets tail
          wipers work-left work-right`,
        nearest: ['compressor', 40 / AMPACITY_10mm2_85],
        why: 'Right: every return is the size of its feed, so it bears the same fuse; worst 40 A on 48 A.',
      },
      {
        rule: 'small-conductor',
        components: `
          back-bar back-blower back-cab-lamp back-compressor back-dip-left back-dip-right back-fridge back-fuel-pump back-heater
          back-horn back-main-left back-main-right back-radio back-sockets back-tail back-wipers back-work-left back-work-right
          battery-strap block-lead charge-lead coil-back-r1 coil-back-r2 coil-back-r3 coil-back-r4 coil-back-r5 coil-back-r7
          coil-back-r8 coil-link coil-link-back coil-r1 coil-r2 coil-r3 coil-r4 coil-r5 coil-r7 coil-r8 engine-strap feed-bar
          feed-blower feed-cab-lamp feed-compressor feed-dip-left feed-dip-right feed-fridge feed-fuel-pump feed-heater
          feed-horn feed-main-left feed-main-right feed-radio feed-sockets feed-tail feed-wipers feed-work-left feed-work-right
          house-bar house-feed house-lead house-strap link-a link-b main-lead starter-lead strap-bay strap-cabin strap-rear
          supply-lead supply-link supply-r1 supply-r2 supply-r3 supply-r4 supply-r5 supply-r7 supply-r8 to-r1 to-r2 to-r3 to-r4
          to-r5 to-r7 to-r8`,
        nearest: ['back-cab-lamp', 1 / 1],
        why: 'Right: nothing is thinner than 1 mm², and only coils and the cab lamp use that.',
      },
      {
        rule: 'unfused-length',
        components: 'house-feed main-lead',
        nearest: ['house-feed', 0.15 / 1.016],
        why: 'Right: 15 cm of lead between post and fuse, under the 7 inches of a bare one, at both batteries.',
      },
      {
        rule: 'voltage-drop',
        components: `
          bar blower cab-lamp compressor dip-left dip-right fridge fuel-pump heater horn main-left main-right radio sockets tail
          wipers work-left work-right`,
        nearest: [
          'fuel-pump',
          (120 * wire(1.2, 50, 74) +
            6 * (fuse(15) + wire(0.3, 4, 87) + wire(2.6, 4, 62) + 0.003 + wire(0.6, 4, 62)) +
            24.2 * wire(0.3, 25, 61) +
            120 * wire(0.4, 50, 74)) /
            0.36,
        ],
        why: 'Right: 0.25 V of the 0.36 V that an essential load may lose, a third of it in the charging lead that all share; of the others none loses half of its 1.2 V.',
      },
      {
        rule: 'way-load',
        components: 'block house-block',
        nearest: ['block', 120 / 200],
        why: 'Right: the charging stud carries everything, 120 A of 200 A.',
      },
      {
        rule: 'zone-water',
        components: 'contactor r1 r2 r3 r4 r5 r7 r8',
        why: 'Right: the relays are IP54 as the bay asks, the contactor IP65, though a code says nothing of a pressure washer.',
      },
    ],
  },
  Wren: {
    counts: { over: 0, tight: 0, unknown: 24, clear: 143 },
    notClear: [
      {
        rule: 'charging-balance',
        component: 'alternator',
        verdict: 'unknown',
        value: WREN_running_A,
        limit: 50,
        why: 'Agreed: 13 A are left, and an old box that may feed side, tail and stop lamps can take most of it; one clamp reading tells.',
      },
      {
        rule: 'coil-pick-up',
        component: 'ra',
        verdict: 'unknown',
        value: 12.6 - WREN_off_A * 0.0075 - WREN_SHARED_V - 0.013,
        limit: PICK_UP_85_V,
        why: 'Half agreed: 12.1 V at most against 9.94 V wanted by a hot coil, and box 1 could not take two volts; but its current is on the same way.',
      },
      {
        rule: 'coil-pick-up',
        component: 'rb',
        verdict: 'unknown',
        value: 12.6 - WREN_off_A * 0.0075 - WREN_SHARED_V - 0.013,
        limit: PICK_UP_85_V,
        why: 'Half agreed: as the dip relay beside it.',
      },
      {
        rule: 'conductor-ampacity',
        component: 'strap-front',
        verdict: 'unknown',
        value: WREN_running_A,
        limit: AMPACITY_10mm2_60,
        why: 'Half agreed: even the whole 15 A of box 1 would make 52 of 72 A, clear; but what a fuse bears for ever is more than its figure, and nobody has looked.',
      },
      {
        rule: 'fuse-load',
        component: 'main-fuse',
        verdict: 'unknown',
        value: WREN_off_A,
        limit: 100 * 0.86875,
        why: 'Half agreed: with all of box 1 it would be 52 of 87 A, still clear; until it is read the sum is not known.',
      },
      {
        rule: 'voltage-drop',
        component: 'fan',
        verdict: 'unknown',
        value: WREN_SHARED_V + 18 * (fuse(30) + 0.002 + wire(1.3, 6, 91) + wire(0.6, 6, 91)),
        limit: 1.2,
        why: 'Agreed in the word, not in the worry: 0.39 V known of 1.2 V; 15 A more through lead, main fuse and straps would add 0.07 V.',
      },
      {
        rule: 'voltage-drop',
        component: 'pump',
        verdict: 'unknown',
        value: WREN_SHARED_V + 2 * (fuse(5) + wire(2.8, 1, 85) + wire(0.6, 1, 85)),
        limit: 1.2,
        why: 'Agreed in the word: 0.35 V of 1.2 V. A careful owner would call the pump essential, then 0.36 V is the mark and box 1 decides.',
      },
      {
        rule: 'voltage-drop',
        component: 'dip-right',
        verdict: 'unknown',
        value: WREN_SHARED_V + 8.8 * (fuse(15) + wire(0.3, 2.5, 89) + 0.002) + 4.4 * (wire(1.6, 2.5, 86) + wire(0.6, 2.5, 86)),
        limit: 1.2,
        why: 'Agreed in the word: 0.35 V of 1.2 V, the relay does its work; box 1 loads the lead they share.',
      },
      {
        rule: 'voltage-drop',
        component: 'horn',
        verdict: 'unknown',
        value: WREN_SHARED_V + 8 * (fuse(15) + wire(1.2, 2.5, 88) + wire(0.6, 2.5, 88)),
        limit: 1.2,
        why: 'Agreed in the word: 0.35 V of 1.2 V, and a horn minds little.',
      },
      {
        rule: 'voltage-drop',
        component: 'dip-left',
        verdict: 'unknown',
        value: WREN_SHARED_V + 8.8 * (fuse(15) + wire(0.3, 2.5, 89) + 0.002) + 4.4 * (wire(1.2, 2.5, 86) + wire(0.6, 2.5, 86)),
        limit: 1.2,
        why: 'Agreed in the word: 0.33 V of 1.2 V, 0.4 m less of wire than on the right.',
      },
      {
        rule: 'voltage-drop',
        component: 'rest-1',
        verdict: 'unknown',
        value: WREN_SHARED_V,
        limit: 1.2,
        why: 'Agreed: what the others drop on its way, 0.17 V, is all one knows of it; its own current is the question.',
      },
      {
        rule: 'conductor-ampacity',
        component: 'engine-strap',
        verdict: 'unknown',
        value: WREN_running_A,
        limit: AMPACITY_25mm2_60,
        why: 'Half agreed: 37 A of 135 A, and box 1 cannot bring it near; the strap is safe, the figure is not known.',
      },
      {
        rule: 'conductor-ampacity',
        component: 'charge-lead',
        verdict: 'unknown',
        value: WREN_running_A,
        limit: AMPACITY_25mm2_60,
        why: 'Half agreed, as for the engine strap: the alternator itself gives no more than 50 A.',
      },
      {
        rule: 'conductor-ampacity',
        component: 'main-lead',
        verdict: 'unknown',
        value: WREN_off_A,
        limit: AMPACITY_25mm2_60,
        why: 'Half agreed: 37 A of 135 A, 52 A with all of box 1.',
      },
      {
        rule: 'conductor-ampacity',
        component: 'battery-strap',
        verdict: 'unknown',
        value: WREN_off_A,
        limit: AMPACITY_25mm2_60,
        why: 'Half agreed, the same current on its way back.',
      },
      {
        rule: 'conductor-ampacity',
        component: 'block-lead',
        verdict: 'unknown',
        value: WREN_off_A,
        limit: AMPACITY_25mm2_60,
        why: 'Half agreed, the same current again; this is the 3 m that would matter in a car of half the wire.',
      },
      {
        rule: 'way-load',
        component: 'block',
        verdict: 'unknown',
        value: WREN_running_A,
        limit: 200,
        why: 'Half agreed: 37 A on a 200 A stud; the box cannot bring it near.',
      },
      {
        rule: 'block-load',
        component: 'ground-front',
        verdict: 'unknown',
        value: WREN_running_A,
        limit: 200,
        why: 'Half agreed: 37 A on a stud of 200 A.',
      },
      {
        rule: 'block-load',
        component: 'block',
        verdict: 'unknown',
        value: WREN_running_A,
        limit: 250,
        why: 'Half agreed: 37 A of 250 A on the bar.',
      },
      {
        rule: 'conductor-ampacity',
        component: 'feed-rest-1',
        verdict: 'unknown',
        value: 0,
        limit: AMPACITY_2_5mm2_85,
        why: 'Agreed: nothing is known of the only current in it. At 85 °C it bears 20 A and its fuse is 15 A, so nothing burns meanwhile.',
      },
      {
        rule: 'conductor-ampacity',
        component: 'back-rest-1',
        verdict: 'unknown',
        value: 0,
        limit: AMPACITY_2_5mm2_85,
        why: 'Agreed, the same wire on the way back.',
      },
      {
        rule: 'fuse-load',
        component: 'fuse-rest-1',
        verdict: 'unknown',
        value: 0,
        limit: 15 * 0.91063,
        why: 'Agreed: hold a clamp round it with everything on. This one reading settles every unknown of the car but two of inrush.',
      },
      { rule: 'fuse-inrush', component: 'fuse-rest-1', verdict: 'unknown', why: 'Agreed: lamps or a motor behind it, nobody knows yet.' },
      {
        rule: 'fuse-inrush',
        component: 'main-fuse',
        verdict: 'unknown',
        why: 'Half agreed: whatever passes a 15 A blade hardly stirs a 100 A strip, but nothing about it is recorded.',
      },
    ],
    clear: [
      {
        rule: 'block-load',
        components: 'supply',
        nearest: ['supply', (2 * 14.13) / 90 / 30],
        why: 'Right: two coils on a splice of 30 A.',
      },
      { rule: 'coil-suppression', components: 'ra rb', why: 'Right: both relays have a resistor, and no electronics share their feed.' },
      {
        rule: 'conductor-ampacity',
        components: `
          back-dip-left back-dip-right back-fan back-horn back-pump coil-back-ra coil-back-rb coil-ra coil-rb feed-dip-left
          feed-dip-right feed-fan feed-horn feed-pump supply-ra supply-rb to-ra to-rb`,
        nearest: ['feed-fan', 18 / AMPACITY_6mm2_85],
        why: 'Right for the wires that are known to carry nothing of box 1; the fan’s 6 mm² uses just over half at 85 °C.',
      },
      {
        rule: 'conductor-protection',
        components: `
          block-lead charge-lead coil-ra coil-rb feed-dip-left feed-dip-right feed-fan feed-horn feed-pump feed-rest-1 supply-ra
          supply-rb to-ra to-rb`,
        nearest: ['feed-fan', 30 / AMPACITY_6mm2_85],
        why: 'Right: 6 mm² at 85 °C bears 33.6 A behind 30 A; what lies beyond the end of box 1’s first two metres is not recorded.',
      },
      {
        rule: 'contact-inrush',
        components: 'ra rb',
        nearest: ['ra', (2 * 44) / 120],
        why: 'Right: two cold lamps of ten times 4.4 A on a relay that makes 120 A; the fan’s 60 A is half.',
      },
      {
        rule: 'contact-load',
        components: 'ra rb switch-ra switch-rb',
        nearest: ['rb', 18 / 40],
        why: 'Right: the fan uses less than half of its relay, the dip relay less than a quarter, the switches next to nothing since they only feed coils.',
      },
      {
        rule: 'fault-clears',
        components: `
          block-lead charge-lead coil-ra coil-rb feed-dip-left feed-dip-right feed-fan feed-horn feed-pump feed-rest-1 supply-ra
          supply-rb to-ra to-rb`,
        nearest: ['block-lead', 1 / 5],
        why: 'Right: 12.6 V / 11.8 mΩ = 1071 A to the body on a 100 A strip, past 600 %: 1 s at the longest; blades end theirs in 0.1 s.',
      },
      {
        rule: 'fault-withstand',
        components: `
          block-lead charge-lead coil-ra coil-rb feed-dip-left feed-dip-right feed-fan feed-horn feed-pump feed-rest-1 supply-ra
          supply-rb to-ra to-rb`,
        nearest: ['block-lead', (600 ** 2 * 1) / (134.6 * 25) ** 2],
        why: 'Right: 1071 A at its end, past 600 % of the 100 A strip all the way: no more than 600 A for 1 s, 3 % of what 25 mm² withstands.',
      },
      {
        rule: 'fuse-breaking',
        components: 'fuse-dip-left fuse-fan fuse-horn fuse-pump fuse-rest-1 fuse-supply main-fuse',
        nearest: ['fuse-fan', 14.2 / (0.0075 + wire(3.15, 25, 20) + wire(0.4, 25, 20) + coldFuse(100) + coldFuse(30)) / 2 / 1000],
        why: 'Right: one battery at the other end of the car, 3 m of lead: half of 1130 A on blades of 1000 A.',
      },
      {
        rule: 'fuse-inrush',
        components: 'fuse-dip-left fuse-fan fuse-horn fuse-pump fuse-supply',
        nearest: ['fuse-dip-left', (88 ** 2 * 0.1) / 3 / (2.0625 * 15 ** 2)],
        why: 'Right: 258 A²s of the 464 A²s that melt a 15 A blade; the fan’s start is a fifth of what its fuse stands.',
      },
      {
        rule: 'fuse-load',
        components: 'fuse-dip-left fuse-fan fuse-horn fuse-pump fuse-supply',
        nearest: ['fuse-fan', 18 / (30 * 0.91063)],
        why: 'Right: 18 A on a blade that keeps 27 A at 85 °C, two thirds.',
      },
      {
        rule: 'fuse-order',
        components: 'fuse-dip-left fuse-fan fuse-horn fuse-pump fuse-rest-1 fuse-supply',
        nearest: ['fuse-fan', (2 * 30) / 100],
        why: 'Right: the main fuse is more than three times the largest blade.',
      },
      {
        rule: 'fuse-placing',
        components: 'fuse-dip-left fuse-fan fuse-horn fuse-pump fuse-rest-1 fuse-supply main-fuse',
        why: 'Right: every fuse stands alone in a feed, box 1’s too as far as it is known.',
      },
      {
        rule: 'rated-voltage',
        components: 'fuse-dip-left fuse-fan fuse-horn fuse-pump fuse-rest-1 fuse-supply main-fuse ra rb switch-ra switch-rb',
        nearest: ['ra', 16 / 16],
        why: 'Right: 16 V relays in a 12 V car; the rest are 32 V parts.',
      },
      {
        rule: 'return-path',
        components: 'dip-left dip-right fan horn pump rest-1',
        nearest: ['fan', 30 / AMPACITY_6mm2_85],
        why: 'Right: returns are the size of their feeds; the fan’s is the nearest, 30 of 33.6 A.',
      },
      {
        rule: 'small-conductor',
        components: `
          back-dip-left back-dip-right back-fan back-horn back-pump back-rest-1 battery-strap block-lead charge-lead
          coil-back-ra coil-back-rb coil-ra coil-rb engine-strap feed-dip-left feed-dip-right feed-fan feed-horn feed-pump
          feed-rest-1 main-lead strap-front supply-ra supply-rb to-ra to-rb`,
        nearest: ['back-pump', 1 / 1],
        why: 'Right: 1 mm² at the pump and the coils, nothing thinner that is known; what is in the old loom is not recorded.',
      },
      {
        rule: 'unfused-length',
        components: 'main-lead',
        nearest: ['main-lead', 0.15 / 1.016],
        why: 'Right: the main fuse is 15 cm from the post.',
      },
    ],
  },
  Anvil: {
    counts: { over: 0, tight: 2, unknown: 0, clear: 190 },
    notClear: [
      {
        rule: 'conductor-protection',
        component: 'charge-lead',
        verdict: 'tight',
        value: 200,
        limit: AMPACITY_25mm2_60,
        why: 'Agreed: the main fuse was chosen for the 50 mm² lead; a short in the 25 mm² charging lead could draw 1.48 times what that bears and not open it. Just within the 1.5 that is still allowed.',
      },
      {
        rule: 'contact-duty',
        component: 'winch',
        verdict: 'tight',
        why: 'Agreed: a hydraulic pack pulls for minutes and then cools; the condition says that it is on, not for how long, and the operator has to know the time on its sheet.',
      },
    ],
    clear: [
      {
        rule: 'block-load',
        components: 'block ground-deck supply',
        nearest: ['ground-deck', 10.12 / 200],
        why: 'Right: 10 A on each stud and bar.',
      },
      {
        rule: 'charging-balance',
        components: 'alternator',
        nearest: ['alternator', (220 / 28.1 + 2 + (2 * 28.1) / 300) / 72],
        why: 'Right: lamps of 10 A on an alternator of 72 A; the rest goes into the bank that the winch has emptied, which is what it is for.',
      },
      {
        rule: 'coil-pick-up',
        components: 'ra rb winch-contactor',
        nearest: ['winch-contactor', (1.1 * 16 * (234.5 + 60)) / 254.5 / (25.2 - 130.1 * 0.014 - 0.08)],
        why: 'Right: with the winch pulling 120 A the contactor still gets 23.3 V of the 20.4 V it wants when warm; it will not chatter.',
      },
      {
        rule: 'coil-suppression',
        components: 'ra rb winch-contactor',
        why: 'Right: resistors at the relays, a Zener diode at the contactor.',
      },
      {
        rule: 'conductor-ampacity',
        components: `
          back-beacon-front back-beacon-rear back-markers back-work-left back-work-right battery-strap block-lead charge-lead
          coil-back-ra coil-back-rb coil-ra coil-rb coil-winch coil-winch-back engine-strap feed-beacon-front feed-beacon-rear
          feed-markers feed-work-left feed-work-right main-lead strap-deck supply-ra supply-rb supply-winch to-ra to-rb winch-a
          winch-b winch-back winch-c`,
        nearest: ['winch-a', 120 / AMPACITY_50mm2_60],
        why: 'Right even if it pulled without end: 57 % of what 50 mm² bears; the lamps do not warm their wires.',
      },
      {
        rule: 'conductor-protection',
        components: `
          block-lead coil-ra coil-rb coil-winch feed-beacon-front feed-beacon-rear feed-markers feed-work-left feed-work-right
          supply-ra supply-rb supply-winch to-ra to-rb winch-b winch-c`,
        nearest: ['block-lead', 200 / AMPACITY_50mm2_60],
        why: 'Right by a little: 50 mm² bears 211 A on the frame and its fuse is 200 A; that is how the trade fuses a winch. The lamps’ wires bear about twice their fuses.',
      },
      {
        rule: 'contact-inrush',
        components: 'ra rb winch-contactor',
        nearest: ['winch-contactor', 400 / 800],
        why: 'Right: the pump’s 400 A as it starts are half of what the contactor makes; lamps of 24 V electronics are nothing to their relays.',
      },
      {
        rule: 'contact-load',
        components: 'ra rb switch-ra switch-rb switch-winch winch-contactor',
        nearest: ['winch-contactor', 120 / 200],
        why: 'Right: a 200 A contactor for a 120 A pump.',
      },
      {
        rule: 'fault-clears',
        components: `
          block-lead charge-lead coil-ra coil-rb coil-winch feed-beacon-front feed-beacon-rear feed-markers feed-work-left
          feed-work-right supply-ra supply-rb supply-winch to-ra to-rb winch-b winch-c`,
        nearest: ['block-lead', 1 / 5],
        why: 'Right: 25.2 V / 16.8 mΩ = 1502 A on a 200 A strip, past 600 %: 1 s at the longest, the winch’s too.',
      },
      {
        rule: 'fault-withstand',
        components: `
          block-lead charge-lead coil-ra coil-rb coil-winch feed-beacon-front feed-beacon-rear feed-markers feed-work-left
          feed-work-right supply-ra supply-rb supply-winch to-ra to-rb winch-b winch-c`,
        nearest: ['charge-lead', (1200 ** 2 * 1) / (134.6 * 25) ** 2],
        why: 'Right: 1321 A at its end, past 600 % of the 200 A strip all the way: no more than 1200 A for 1 s, an eighth of what 25 mm² withstands, so a short is no danger to the charging lead; the slow overload above is.',
      },
      {
        rule: 'fuse-breaking',
        components: 'fuse-beacon-front fuse-markers fuse-supply fuse-work-left main-fuse winch-fuse',
        nearest: ['fuse-work-left', 28.2 / (0.014 + wire(3.15, 50, 20) + wire(0.5, 50, 20) + coldFuse(200) + coldFuse(15)) / 2 / 1000],
        why: 'Right: half of 1440 A on blades of 1000 A behind a strip that breaks 6000 A; A2 has 28 % to spare.',
      },
      {
        rule: 'fuse-inrush',
        components: 'fuse-beacon-front fuse-markers fuse-supply fuse-work-left main-fuse winch-fuse',
        nearest: ['fuse-markers', (20 ** 2 * 0.1) / 3 / (2.0625 * 10 ** 2)],
        why: 'Right: marker lamps draw 20 A cold, 13 A²s of 206 A²s; the pump’s 400 A are judged by time, 0.3 s where a 200 A strip holds twice its rating for 1 s at least.',
      },
      {
        rule: 'fuse-load',
        components: 'fuse-beacon-front fuse-markers fuse-supply fuse-work-left main-fuse winch-fuse',
        nearest: ['winch-fuse', 120 / (200 * 0.86875)],
        why: 'Right: 120 A for minutes on a strip that keeps 174 A at 60 °C; lamps use less than half of theirs.',
      },
      {
        rule: 'fuse-order',
        components: 'fuse-beacon-front fuse-markers fuse-supply fuse-work-left',
        nearest: ['fuse-work-left', (2 * 15) / 200],
        why: 'Right: 200 A ahead of 15 A.',
      },
      {
        rule: 'fuse-placing',
        components: 'fuse-beacon-front fuse-markers fuse-supply fuse-work-left main-fuse winch-fuse',
        why: 'Right: every fuse stands alone in a feed.',
      },
      {
        rule: 'ground-offset',
        components: 'beacon-front beacon-rear work-left work-right',
        nearest: ['beacon-front', (10.12 * (wire(0.4, 25, 60) + wire(0.5, 50, 60))) / 0.1],
        why: 'Right: lamps share 0.9 m of strap at 10 A, 5 of 100 mV; the winch comes back by itself.',
      },
      {
        rule: 'rated-voltage',
        components: `
          fuse-beacon-front fuse-markers fuse-supply fuse-work-left main-fuse ra rb switch-ra switch-rb switch-winch
          winch-contactor winch-fuse`,
        nearest: ['fuse-markers', 32 / 32],
        why: 'Right: all its parts are marked 32 V, what a 24 V system may reach; there is no slack for a 16 V part here.',
      },
      {
        rule: 'return-path',
        components: 'beacon-front beacon-rear markers winch work-left work-right',
        nearest: ['winch', 200 / AMPACITY_50mm2_60],
        why: 'Right: the winch comes back by 50 mm² of its own, 200 of 211 A.',
      },
      {
        rule: 'small-conductor',
        components: `
          back-beacon-front back-beacon-rear back-markers back-work-left back-work-right battery-strap block-lead charge-lead
          coil-back-ra coil-back-rb coil-ra coil-rb coil-winch coil-winch-back engine-strap feed-beacon-front feed-beacon-rear
          feed-markers feed-work-left feed-work-right main-lead strap-deck supply-ra supply-rb supply-winch to-ra to-rb winch-a
          winch-b winch-back winch-c`,
        nearest: ['coil-winch', 1 / 1],
        why: 'Right: 1 mm² for coils, nothing thinner.',
      },
      {
        rule: 'unfused-length',
        components: 'main-lead winch-a',
        nearest: ['main-lead', 0.15 / 1.016],
        why: 'Right: both fuses are 15 cm from the post.',
      },
      {
        rule: 'voltage-drop',
        components: 'beacon-front beacon-rear markers winch work-left work-right',
        nearest: ['winch', (120 * (wire(2.65, 50, 74) + fuse(200) + 0.0004 + wire(1.8, 50, 74))) / 2.4],
        why: 'Right: 0.33 V of 2.4 V at 120 A, short thick leads; the lamps lose a tenth of what they may.',
      },
      { rule: 'way-load', components: 'block', nearest: ['block', 10.12 / 200], why: 'Right: 10 A on a stud of 200 A.' },
    ],
  },
}
