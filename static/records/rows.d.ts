/**
 * What a row of each kind holds, as the catalogue declares it (fieldlog/records/); tests/records/make_row_types.py
 * writes this file. A field that nobody has filled in is null or not there, also where the form requires it: entries
 * come one by one, and older apps wrote other fields.
 */

/** What every row has, whatever its kind. */
export interface Recorded {
  record_id: string;
  /** null: of the whole programme */
  site_id: string | null;
  visit_id: string | null;
  created_by: string | null;
  changed_by: string | null;
  /** of the first entry's stamp: milliseconds since 1970 UTC; not of what an app up to 0.3.0 put together */
  created_at_ms?: number;
  /** of the last entry's stamp: milliseconds since 1970 UTC */
  changed_at_ms: number;
  /** the worst state of this phone's own entries on it; none where it wrote none */
  entry_state?: 'phone' | 'taken' | 'held';
  /** somebody removed it */
  _deleted?: boolean | null;
}

/** Site */
export interface Site extends Recorded {
  name?: string | null;
  lat_deg?: number | null; // °
  lon_deg?: number | null; // °
  zone?: string | null;
  grid_azimuth_deg?: number | null; // °
  tide_station?: string | null;
  level_datum?: string | null;
  work_level_m?: number | null; // m
  route_low_level_m?: number | null; // m
  allowance_m?: number | null; // m
  allowance_basis?: string | null;
  walk_out_min?: number | null; // min
  muster_min?: number | null; // min
  latest_after_low_min?: number | null; // min
  least_usable_min?: number | null; // min
  travel_min?: number | null; // min
  visit_weekday?: 'any' | 'weekend' | 'weekday' | null;
  access_east_m?: number | null; // m
  access_north_m?: number | null; // m
  check_every_days?: number | null; // d
  lean_look_deg?: number | null; // °
  reading_repeat_mm?: number | null; // mm
  least_shift_m?: number | null; // m
  emergency_card?: string | null;
  emergency_card_es?: string | null;
  people_per_leader?: number | null;
  least_leaders?: number | null;
  spanish_form?: boolean | null;
}

/** Closure */
export interface Closure extends Recorded {
  name?: string | null;
  from_day?: string | null;
  to_day?: string | null;
  every_year?: boolean | null;
  closure?: 'closed' | 'care' | null;
  source?: string | null;
}

/** Datum */
export interface DatumOffset extends Recorded {
  datum?: string | null;
  above_chart_m?: number | null; // m
  epoch?: string | null;
  source?: string | null;
}

/** Row */
export interface Row extends Recorded {
  name?: string | null;
  order_number?: number | null;
  bed_level_m?: number | null; // m
  level_datum?: string | null;
}

/** Control mark */
export interface ControlMark extends Recorded {
  label?: string | null;
  east_m?: number | null; // m
  north_m?: number | null; // m
  level_m?: number | null; // m
  level_datum?: string | null;
  sigma_m?: number | null; // m
}

/** Unit design */
export interface UnitDesign extends Recorded {
  name?: string | null;
  height_mm?: number | null; // mm
  footprint_mm?: number | null; // mm
  mass_kg?: number | null; // kg
}

/** Casting batch */
export interface CastingBatch extends Recorded {
  label?: string | null;
  cast_on?: string | null;
  mix_note?: string | null;
  design_id?: string | null; // a unit_design
}

/** Unit */
export interface Unit extends Recorded {
  tag?: string | null;
  tag_made_here?: boolean | null;
  design_id?: string | null; // a unit_design
  batch_id?: string | null; // a casting_batch
  row_id?: string | null; // a row
  slot_number?: number | null;
  planned_east_m?: number | null; // m
  planned_north_m?: number | null; // m
  bed_level_m?: number | null; // m
  level_datum?: string | null;
}

/** Plot */
export interface Plot extends Recorded {
  label?: string | null;
  plot_type?: 'stake' | 'rod_table' | 'horizon' | 'quadrat' | 'transect' | 'photo_point' | 'water_point' | null;
  treatment?: 'treatment' | 'control' | null;
  set_label?: string | null;
  row_id?: string | null; // a row
  mark_id?: string | null; // a control_mark
  read_every_days?: number | null; // d
  area_m2?: number | null; // m²
  grid_points?: number | null;
  azimuth_deg?: number | null; // °
  camera_height_m?: number | null; // m
  in_frame?: string | null;
  laid_on?: string | null;
  east_m?: number | null; // m
  north_m?: number | null; // m
}

/** Species */
export interface Species extends Recorded {
  scientific_name?: string | null;
  common_name?: string | null;
  taxon_rank?: 'species' | 'genus' | 'family' | 'order' | 'class' | 'phylum' | 'kingdom' | null;
  taxon_id?: string | null;
  group?: 'invertebrate' | 'fish' | 'bird' | 'plant' | 'alga' | 'mammal' | 'other' | null;
}

/** Person */
export interface Person extends Recorded {
  display_name?: string | null;
  role?: 'leader' | 'student' | 'volunteer' | 'staff' | 'visitor' | null;
  minor?: boolean | null;
  waiver_valid?: boolean | null;
  waiver_version?: string | null;
  same_as?: string | null; // a person
  left_on?: string | null;
}

/** Contacts */
export interface PersonPrivate extends Recorded {
  person_id?: string | null; // a person
  phone?: string | null;
  email?: string | null;
  emergency_name?: string | null;
  emergency_phone?: string | null;
  guardian_name?: string | null;
  guardian_phone?: string | null;
}

/** Medical note */
export interface SignInPrivate extends Recorded {
  sign_in_id?: string | null; // a sign_in
  medical_note?: string | null;
}

/** Visit */
export interface Visit extends Recorded {
  purpose?: 'walk' | 'deployment' | 'storm_check' | 'monitoring' | null;
  window_id?: string | null;
  started_at?: string | null;
  ended_at?: string | null;
  leader_id?: string | null; // a person
  conditions?: string | null;
  observed_level_m?: number | null; // m
  level_datum?: string | null;
  observed_at?: string | null;
  walk_timed_min?: number | null; // min
  briefing_done?: boolean | null;
  time_known?: boolean | null;
  joined_to?: string | null; // a visit
}

/** A phone's part of a visit */
export interface VisitPart extends Recorded {
  of_visit_id?: string | null; // a visit
  device?: string | null;
  leader_id?: string | null; // a person
  from_at?: string | null;
  until_at?: string | null;
}

/** Sign-in */
export interface SignIn extends Recorded {
  person_id?: string | null; // a person
  sign_in_role?: 'leader' | 'student' | 'volunteer' | 'staff' | 'visitor' | null;
  briefing_heard?: boolean | null;
  waiver_version?: string | null;
  in_at?: string | null;
  out_at?: string | null;
  no_out_reason?: string | null;
  time_known?: boolean | null;
  task?: 'casting' | 'carrying' | 'placing' | 'checking' | 'monitoring' | 'other' | null;
  adult_id?: string | null; // a person
  in_visit?: string | null; // a visit
}

/** Unit check */
export interface UnitCheck extends Recorded {
  unit_id?: string | null; // a unit
  checked_at?: string | null;
  time_known?: boolean | null;
  found_state?: 'seen' | 'probed' | 'not_found_dry' | 'not_found_under_water' | 'not_visited' | null;
  body_grade?: number | null;
  stance_grade?: number | null;
  toe_grade?: number | null;
  cover_grade?: number | null;
  exposed_height_mm?: number | null; // mm
  tilt_deg?: number | null; // °
  crack_width_mm?: number | null; // mm
  chip_depth_mm?: number | null; // mm
  chip_across_mm?: number | null; // mm
  scaling_depth_mm?: number | null; // mm
  lost_volume_pct?: number | null; // %
  scour_depth_mm?: number | null; // mm
  rocking?: boolean | null;
  probe_depth_mm?: number | null; // mm
  water_depth_m?: number | null; // m
  crest_level_mm?: number | null; // mm
  crest_datum?: string | null;
  looked_only?: boolean | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Position */
export interface PositionFix extends Recorded {
  of_kind?: 'unit' | 'plot' | 'control_mark' | null;
  of_id?: string | null; // a of_kind
  fixed_at?: string | null;
  time_known?: boolean | null;
  method?: 'phone_gnss' | 'rtk' | 'typed' | 'tapes' | null;
  lat_deg?: number | null; // °
  lon_deg?: number | null; // °
  accuracy_m?: number | null; // m
  platform?: string | null;
  east_m?: number | null; // m
  north_m?: number | null; // m
  sigma_m?: number | null; // m
  mark_1_id?: string | null; // a control_mark
  range_1_m?: number | null; // m
  mark_2_id?: string | null; // a control_mark
  range_2_m?: number | null; // m
  mark_3_id?: string | null; // a control_mark
  range_3_m?: number | null; // m
  mark_4_id?: string | null; // a control_mark
  range_4_m?: number | null; // m
  tape_sigma_m?: number | null; // m
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Work on a unit */
export interface UnitEvent extends Recorded {
  unit_id?: string | null; // a unit
  event?: 'placed' | 'reset' | 'righted' | 'replaced' | 'cleaned' | 'retired' | null;
  event_at?: string | null;
  time_known?: boolean | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Sighting */
export interface Sighting extends Recorded {
  species_id?: string | null; // a species
  taxon?: string | null;
  found?: 'seen' | 'looked_for_none' | null;
  count?: number | null;
  life_stage?: 'egg' | 'larva' | 'juvenile' | 'adult' | 'seedling' | 'flowering' | 'dead' | null;
  behaviour?: string | null;
  sureness?: 'sure' | 'likely' | 'unsure' | null;
  near_unit_id?: string | null; // a unit
  seen_at?: string | null;
  time_known?: boolean | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Photo */
export interface Photo extends Recorded {
  of_kind?: 'unit_check' | 'sighting' | 'visit' | 'unit' | 'position_fix' | 'plot' | null;
  of_id?: string | null; // a of_kind
  sha256?: string | null;
  bytes?: number | null; // bytes
  media_type?: 'image/jpeg' | 'image/png' | 'image/webp' | 'image/heic' | null;
  width_px?: number | null; // px
  height_px?: number | null; // px
  shows?: string | null;
  taken_at?: string | null;
  lat_deg?: number | null; // °
  lon_deg?: number | null; // °
  accuracy_m?: number | null; // m
  in_visit?: string | null; // a visit
}

/** Photo of people */
export interface PeoplePhoto extends Recorded {
  of_kind?: 'unit_check' | 'sighting' | 'visit' | 'unit' | 'position_fix' | 'plot' | null;
  of_id?: string | null; // a of_kind
  sha256?: string | null;
  bytes?: number | null; // bytes
  media_type?: 'image/jpeg' | 'image/png' | 'image/webp' | 'image/heic' | null;
  width_px?: number | null; // px
  height_px?: number | null; // px
  shows?: string | null;
  taken_at?: string | null;
  lat_deg?: number | null; // °
  lon_deg?: number | null; // °
  accuracy_m?: number | null; // m
  in_visit?: string | null; // a visit
  recognizable?: boolean | null;
  consent?: boolean | null;
}

/** Decision on a flag */
export interface FlagDecision extends Recorded {
  flag_id?: string | null;
  decision?: 'settled' | 'accepted' | 'reopened' | null;
  reason?: string | null;
  decided_at?: string | null;
}

/** Lead's decision on lower water */
export interface LevelWord extends Recorded {
  of_visit_id?: string | null; // a visit
  allows_m?: number | null; // m
  said_at?: string | null;
  reason?: string | null;
}

/** Visit plan: one of Stops */
export interface VisitPlanPlannedStopsItem {
  team: number;
  stop_kind?: 'unit' | 'plot' | null;
  stop_id: string; // a stop_kind
  after_low_min: number; // min
  takes_min: number; // min
  weight?: number | null;
}

/** Visit plan: one of Does not fit */
export interface VisitPlanLeftOutStopsItem {
  stop_kind?: 'unit' | 'plot' | null;
  stop_id: string; // a stop_kind
  why?: string | null;
}

/** Visit plan */
export interface VisitPlan extends Recorded {
  window_id?: string | null;
  low_at?: string | null;
  made_at?: string | null;
  teams?: number | null;
  planned_stops?: VisitPlanPlannedStopsItem[] | null;
  left_out_stops?: VisitPlanLeftOutStopsItem[] | null;
  stops?: string | null;
  left_out?: string | null;
  bring?: string | null;
  tides_needed?: number | null;
}

/** Import */
export interface Import extends Recorded {
  file_name?: string | null;
  of_kind?: string | null;
  records_made?: number | null;
  imported_at?: string | null;
}

/** Method note */
export interface MethodNote extends Recorded {
  about?: | 'unit_check' | 'position_fix' | 'sighting' | 'photo' | 'visit' | 'sign_in' | 'readings' | 'water_reading'
    | 'other' | null;
  from_day?: string | null;
  note?: string | null;
}

/** Closing of a season */
export interface SeasonClosing extends Recorded {
  season_year?: number | null;
  people_done?: boolean | null;
  open_done?: boolean | null;
  methods_done?: boolean | null;
  role_contacts?: string | null;
  word?: string | null;
  closed_on?: string | null;
}

/** Instrument */
export interface Instrument extends Recorded {
  name?: string | null;
  serial?: string | null;
  calibrated_on?: string | null;
  calibration_days?: number | null; // d
}

/** Own field */
export interface OwnField extends Recorded {
  reading_kind?: | 'stake_reading' | 'table_reading' | 'horizon_reading' | 'level_run' | 'rod_profile' | 'cover_reading'
    | 'edge_reading' | 'settlement_count' | 'water_reading' | null;
  label?: string | null;
  holds?: 'number' | 'choice' | null;
  unit?: string | null;
  least?: number | null;
  most?: number | null;
  words?: (string)[] | null;
  retired?: boolean | null;
}

/** Plot event */
export interface PlotEvent extends Recorded {
  plot_id?: string | null; // a plot
  event?: 'set' | 'moved' | 'replaced' | 'new_datum' | 'lost' | 'retired' | null;
  event_at?: string | null;
  time_known?: boolean | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Stake reading: one of Own fields */
export interface StakeReadingOwnValuesItem {
  own_field_id: string; // a own_field
  number?: number | null;
  word?: string | null;
}

/** Stake reading */
export interface StakeReading extends Recorded {
  plot_id?: string | null; // a plot
  read_at?: string | null;
  time_known?: boolean | null;
  exposed_mm?: number | null; // mm
  scour_ring?: boolean | null;
  own_values?: StakeReadingOwnValuesItem[] | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Rod table reading: one of Pins */
export interface TableReadingPinsItem {
  direction: number;
  pin: number;
  height_mm: number; // mm
  remark?: 'shell' | 'hole' | 'root' | 'other' | null;
}

/** Rod table reading: one of Own fields */
export interface TableReadingOwnValuesItem {
  own_field_id: string; // a own_field
  number?: number | null;
  word?: string | null;
}

/** Rod table reading */
export interface TableReading extends Recorded {
  plot_id?: string | null; // a plot
  read_at?: string | null;
  time_known?: boolean | null;
  pins?: TableReadingPinsItem[] | null;
  own_values?: TableReadingOwnValuesItem[] | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Marker horizon reading: one of Cores */
export interface HorizonReadingCoresItem {
  core: number;
  depth_mm: number; // mm
}

/** Marker horizon reading: one of Own fields */
export interface HorizonReadingOwnValuesItem {
  own_field_id: string; // a own_field
  number?: number | null;
  word?: string | null;
}

/** Marker horizon reading */
export interface HorizonReading extends Recorded {
  plot_id?: string | null; // a plot
  read_at?: string | null;
  time_known?: boolean | null;
  horizon_state?: 'found' | 'at_surface' | 'not_found' | null;
  cores?: HorizonReadingCoresItem[] | null;
  own_values?: HorizonReadingOwnValuesItem[] | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Level run: one of Sights */
export interface LevelRunSightsItem {
  sight: 'back' | 'ahead' | 'point' | 'close';
  rod_m: number; // m
  distance_m?: number | null; // m
  at?: string | null;
}

/** Level run: one of Own fields */
export interface LevelRunOwnValuesItem {
  own_field_id: string; // a own_field
  number?: number | null;
  word?: string | null;
}

/** Level run */
export interface LevelRun extends Recorded {
  plot_id?: string | null; // a plot
  read_at?: string | null;
  time_known?: boolean | null;
  start_mark_id?: string | null; // a control_mark
  end_mark_id?: string | null; // a control_mark
  start_level_m?: number | null; // m
  end_level_m?: number | null; // m
  level_datum?: string | null;
  run_length_m?: number | null; // m
  sights?: LevelRunSightsItem[] | null;
  own_values?: LevelRunOwnValuesItem[] | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Two-rod profile: one of Steps */
export interface RodProfileProfileStepsItem {
  out_m: number; // m
  up_mm: number; // mm
}

/** Two-rod profile: one of Own fields */
export interface RodProfileOwnValuesItem {
  own_field_id: string; // a own_field
  number?: number | null;
  word?: string | null;
}

/** Two-rod profile */
export interface RodProfile extends Recorded {
  plot_id?: string | null; // a plot
  read_at?: string | null;
  time_known?: boolean | null;
  start_level_m?: number | null; // m
  end_level_m?: number | null; // m
  level_datum?: string | null;
  profile_steps?: RodProfileProfileStepsItem[] | null;
  own_values?: RodProfileOwnValuesItem[] | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Marsh plot reading: one of Cover */
export interface CoverReadingCoverItem {
  species_id?: string | null; // a species
  surface?: 'bare' | 'wrack' | 'shell' | 'water' | null;
  hits?: number | null;
  cover_pct?: number | null; // %
  class_from_pct?: number | null; // %
  class_to_pct?: number | null; // %
}

/** Marsh plot reading: one of Own fields */
export interface CoverReadingOwnValuesItem {
  own_field_id: string; // a own_field
  number?: number | null;
  word?: string | null;
}

/** Marsh plot reading */
export interface CoverReading extends Recorded {
  plot_id?: string | null; // a plot
  read_at?: string | null;
  time_known?: boolean | null;
  cover_method?: 'points' | 'percent' | 'classes' | null;
  points_read?: number | null;
  class_scheme?: string | null;
  cover?: CoverReadingCoverItem[] | null;
  stems_species_id?: string | null; // a species
  stems?: number | null;
  stems_area_m2?: number | null; // m²
  tallest?: (number)[] | null;
  own_values?: CoverReadingOwnValuesItem[] | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Edge reading: one of Own fields */
export interface EdgeReadingOwnValuesItem {
  own_field_id: string; // a own_field
  number?: number | null;
  word?: string | null;
}

/** Edge reading */
export interface EdgeReading extends Recorded {
  plot_id?: string | null; // a plot
  read_at?: string | null;
  time_known?: boolean | null;
  shore_line?: 'marsh_edge' | 'high_water' | 'bank_toe' | null;
  distance_m?: number | null; // m
  east_m?: number | null; // m
  north_m?: number | null; // m
  uncertainty_m?: number | null; // m
  own_values?: EdgeReadingOwnValuesItem[] | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Settlement count: one of Counts */
export interface SettlementCountCountsItem {
  species_id: string; // a species
  count: number;
}

/** Settlement count: one of Points hit */
export interface SettlementCountPointsHitItem {
  species_id: string; // a species
  hits: number;
}

/** Settlement count: one of Own fields */
export interface SettlementCountOwnValuesItem {
  own_field_id: string; // a own_field
  number?: number | null;
  word?: string | null;
}

/** Settlement count */
export interface SettlementCount extends Recorded {
  unit_id?: string | null; // a unit
  read_at?: string | null;
  time_known?: boolean | null;
  face?: 'seaward' | 'landward' | 'top' | 'inside' | null;
  frame_cm2?: number | null; // cm²
  counted_from?: 'shore' | 'photo' | null;
  counted_photo_id?: string | null; // a photo
  counts?: SettlementCountCountsItem[] | null;
  heights_species_id?: string | null; // a species
  shell_heights?: (number)[] | null;
  points_read?: number | null;
  points_hit?: SettlementCountPointsHitItem[] | null;
  own_values?: SettlementCountOwnValuesItem[] | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Water reading: one of Own fields */
export interface WaterReadingOwnValuesItem {
  own_field_id: string; // a own_field
  number?: number | null;
  word?: string | null;
}

/** Water reading */
export interface WaterReading extends Recorded {
  plot_id?: string | null; // a plot
  read_at?: string | null;
  time_known?: boolean | null;
  instrument_id?: string | null; // a instrument
  temperature_c?: number | null; // °C
  salinity_psu?: number | null; // PSU
  oxygen_mg_l?: number | null; // mg/L
  turbidity_ntu?: number | null; // NTU
  own_values?: WaterReadingOwnValuesItem[] | null;
  note?: string | null;
  in_visit?: string | null; // a visit
}

/** Preparation hours */
export interface Preparation extends Recorded {
  person_id?: string | null; // a person
  worked_on?: string | null;
  spent_h?: number | null; // h
  preparation_role?: 'leader' | 'student' | 'volunteer' | 'staff' | 'visitor' | null;
  task?: 'casting' | 'carrying' | 'placing' | 'checking' | 'monitoring' | 'other' | null;
  what?: string | null;
}

/** Miles driven */
export interface Mileage extends Recorded {
  person_id?: string | null; // a person
  driven_on?: string | null;
  driven_mi?: number | null; // mi
  trip?: string | null;
}

/** Award */
export interface Award extends Recorded {
  name?: string | null;
  award_number?: string | null;
  funder?: string | null;
  federal?: boolean | null;
  from_day?: string | null;
  to_day?: string | null;
}

/** Hours on an award */
export interface AwardHours extends Recorded {
  award_id?: string | null; // a award
  of_visit_id?: string | null; // a visit
  person_id?: string | null; // a person
  task?: 'casting' | 'carrying' | 'placing' | 'checking' | 'monitoring' | 'other' | null;
  from_day?: string | null;
  to_day?: string | null;
  of_kind?: 'sign_in' | 'preparation' | 'mileage' | null;
  of_id?: string | null; // a of_kind
}

/** Rate */
export interface Rate extends Recorded {
  name?: string | null;
  rate_year?: number | null;
  rate_per?: 'hour' | 'mile' | null;
  rate_role?: 'volunteer' | 'leader' | null;
  task?: 'casting' | 'carrying' | 'placing' | 'checking' | 'monitoring' | 'other' | null;
  amount?: number | null;
  currency?: string | null;
  basis?: string | null;
}

/** Hours signed */
export interface HoursSigned extends Recorded {
  person_id?: string | null; // a person
  from_day?: string | null;
  to_day?: string | null;
  signed_h?: number | null; // h
  signed_mi?: number | null; // mi
  signed_by_id?: string | null; // a person
  signed_at?: string | null;
}

/** Waiver */
export interface Waiver extends Recorded {
  version?: string | null;
  language?: 'en' | 'es' | null;
  paragraphs?: (string)[] | null;
  used_from_at?: string | null;
  keep_until?: string | null;
}

/** Signed waiver */
export interface WaiverSigned extends Recorded {
  person_id?: string | null; // a person
  waiver_id?: string | null; // a waiver
  waiver_version?: string | null;
  signed_as?: 'self' | 'guardian' | null;
  signed_name?: string | null;
  signature?: (string)[] | null;
  by_name_only?: boolean | null;
  signed_at?: string | null;
  photos_allowed?: boolean | null;
}

/** Head count */
export interface HeadCount extends Recorded {
  called?: 'arrival' | 'move' | 'turn_back' | 'vehicles' | null;
  counted?: number | null;
  signed_in?: number | null;
  counted_at?: string | null;
  note?: string | null;
}

/** Contacts opened */
export interface ContactLook extends Recorded {
  person_id?: string | null; // a person
  looked_at?: string | null;
}

/** The row of each kind, by the kind's name. */
export interface Rows {
  site: Site;
  closure: Closure;
  datum_offset: DatumOffset;
  row: Row;
  control_mark: ControlMark;
  unit_design: UnitDesign;
  casting_batch: CastingBatch;
  unit: Unit;
  plot: Plot;
  species: Species;
  person: Person;
  person_private: PersonPrivate;
  sign_in_private: SignInPrivate;
  visit: Visit;
  visit_part: VisitPart;
  sign_in: SignIn;
  unit_check: UnitCheck;
  position_fix: PositionFix;
  unit_event: UnitEvent;
  sighting: Sighting;
  photo: Photo;
  people_photo: PeoplePhoto;
  flag_decision: FlagDecision;
  level_word: LevelWord;
  visit_plan: VisitPlan;
  import: Import;
  method_note: MethodNote;
  season_closing: SeasonClosing;
  instrument: Instrument;
  own_field: OwnField;
  plot_event: PlotEvent;
  stake_reading: StakeReading;
  table_reading: TableReading;
  horizon_reading: HorizonReading;
  level_run: LevelRun;
  rod_profile: RodProfile;
  cover_reading: CoverReading;
  edge_reading: EdgeReading;
  settlement_count: SettlementCount;
  water_reading: WaterReading;
  preparation: Preparation;
  mileage: Mileage;
  award: Award;
  award_hours: AwardHours;
  rate: Rate;
  hours_signed: HoursSigned;
  waiver: Waiver;
  waiver_signed: WaiverSigned;
  head_count: HeadCount;
  contact_look: ContactLook;
}

/** The row of a kind that is named in the code; of one that only the data name, any. */
export type RowOf<K extends string> = string extends K ? Recorded & Record<string, any>
  : K extends keyof Rows ? Rows[K] : never;
