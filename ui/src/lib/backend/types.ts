/** The shapes of flight file and answer, as `windfall-facts` writes them. */

export interface LatLon { lat: number; lon: number }
export type North = 'true' | 'magnetic'
export type Mode =
  | 'opens' | 'opens_late' | 'tangled' | 'none_opened' | 'came_apart'
  | 'cord_broke' | 'motor_kicked_out' | 'second_stage_unlit' | 'unmodelled'
export type HazardKind =
  | 'road' | 'railway' | 'power_line' | 'water' | 'trees' | 'buildings'
  | 'crop' | 'livestock' | 'private_land' | 'other'

export interface Hazard { kind: HazardKind; name: string | null; geometry: unknown }
export interface Field {
  id: string | null; name: string | null; cover: string | null; outline: unknown; hazards: Hazard[]
}
export interface Flight {
  format: string
  id: string | null
  title: string | null
  pad: LatLon & { accuracy_m: number | null; elevation_m: number | null }
  field: Field | null
  rocket: { id: string | null; name: string | null; stages: unknown[] }
  air: unknown
  wind: unknown[]
  launch: unknown
  evidence: unknown[]
}

export interface Region { probability: number; area_m2: number; geometry: unknown }
export interface ModeAnswer { mode: Mode; probability: number; aim: LatLon; regions: Region[] }
export interface PartAnswer {
  part: string
  p_apart: number
  aim: LatLon
  approach: LatLon & { caution: string | null }
  distance_m: number
  distance_from_pad_m: number
  bearing_true_deg: number
  bearing_magnetic_deg: number
  walk_s: number
  regions: Region[]
  modes: ModeAnswer[]
  in_field: number | null
  hazards: { kind: HazardKind; name: string | null; probability: number }[]
}
export interface SightLine {
  evidence: number; from: LatLon; to: LatLon; bearing_true_deg: number; moment: string
}
export interface Answer {
  format: string
  flight: string | null
  pad: LatLon
  from: LatLon
  declination_deg: number
  cautions: string[]
  parts: PartAnswer[]
  sight_lines: SightLine[]
  why: string
  would_help: string | null
  surprises: { evidence: number; p_mistaken: number; text: string }[]
  warnings: string[]
  beliefs: string[]
  seed: number
  effective_draws: number
  monte_carlo_error_m: number
  model_version: string
  elapsed_ms: number
}
