//! Every sentence of the core, in one place.

mod spoken;

use core::fmt;
use serde::{Deserialize, Serialize};
pub use spoken::chance;
use spoken::{Spoken, sentences};
use windfall_quantities::NotAPosition;

sentences! {
    // Why there.
    Why { how: Box<Sentence>, p_how: f64, apogee_m: f64, in_the_air_s: f64, way: Box<Sentence> } =>
        "Most likely {how} ({p_how}): it rose to about {apogee_m}, was {in_the_air_s} in the air, {way}.";
    ItOpened {} => "its recovery device opened as planned";
    ItOpenedLate {} => "its recovery device opened late";
    ItTangled {} => "its recovery device came out tangled";
    NothingOpened {} => "nothing opened and it fell nose first";
    ItCameApart {} => "it came apart";
    TheCordBroke {} => "the cord broke";
    TheMotorWasKickedOut {} => "the motor was kicked out and it tumbled";
    TheSecondStageDidNotLight {} => "the second stage did not light";
    SomethingUnusual {} => "something unusual happened";
    CameDownFar { distance_m: f64, compass_deg: f64 } =>
        "and came down about {distance_m} {compass_deg} of the pad";
    CameDownClose {} => "and came down close to the pad";
    RestsOn { facts: Vec<Sentence> } => "This rests on {facts}.";
    Sightings { count: usize } => "1 sighting" | "{count} sightings";
    Tracks { count: usize } => "1 track" | "{count} tracks";
    AltimeterReadings { count: usize } => "1 altimeter reading" | "{count} altimeter readings";
    PartsFound { count: usize } => "1 part found" | "{count} parts found";
    WordsOnWhatItDid { count: usize } => "1 word on what it did" | "{count} words on what it did";
    WordsOnWhereItIs { count: usize } => "1 word on where it is" | "{count} words on where it is";
    WindReadings { count: usize } => "1 wind reading" | "{count} wind readings";
    NoWindReadingAtAll {} => "no wind reading at all";

    // What would help most.
    WouldHelp { what: Box<Sentence>, share: f64 } =>
        "What would help most: {what}. It stands behind about {share} of the doubt.";
    WindFrom {} => "where the wind blew to at launch";
    WindStrength {} => "how strong the wind was at launch";
    WindAtLaunch {} => "the wind at launch: how strong, and where it blew to";
    RodLean {} => "how far the rod leaned, and which way";
    DeviceSize {} => "the size of the parachute or streamer";
    RocketWeight {} => "the weight of the rocket";
    PrintedDelay {} => "the delay printed on the motor";
    FullMotorName {} => "the full name of the motor, such as C6-5";
    MotorAtAll {} => "the motor: its letter, or better its full name, such as C6-5";

    // What does not fit the rest.
    SightingOff { what: Box<Sentence>, by: Option<Box<Sentence>>, when: Option<Box<Sentence>> } =>
        "The sighting {what}{by}{when} does not fit the rest: perhaps it was something else, or the time or compass was off.";
    OfTheHighestPoint {} => "of the highest point";
    OfTheEjection {} => "of the ejection";
    OnTheWayDown {} => "on the way down";
    WhenLastSeen {} => "when last seen";
    OfTheLanding {} => "of the landing";
    ByObserver { observer: String } => "by {observer}";
    AtTime { t_s: f64 } => "at {t_s}";
    TrackOff {} => "The track does not fit the rest: perhaps it followed something else.";
    AltimeterOff {} => "The altimeter does not fit the rest: another flight, or feet instead of metres?";
    FindOff { part: String } =>
        "Where \"{part}\" was found does not fit the rest: is it this rocket's, and is the place right?";
    SawOff {} => "What it was seen to do does not fit the rest.";
    AreaOff {} => "What was told of where it is, or is not, does not fit the rest.";
    ThisOff {} => "This does not fit the rest.";

    // Cautions.
    HotMotor {} =>
        "A hot motor may lie in the grass: look for smoke first, have water with you, and call the fire service before you search any burning ground.";
    LiveCharge {} =>
        "Its charge or motor may not have fired and may still be live: keep faces away from both ends, do not take it apart, and ask the safety officer.";
    OnTheWayTo { part: String, caution: Box<Sentence> } => "On the way to \"{part}\": {caution}";
    NotLookedOver { compass_deg: f64 } =>
        "Nobody has looked over all the ground where it may lie, {compass_deg} of the pad: it is not checked for roads, wires and water.";
    InAPowerLine {} =>
        "It may hang in a power line: never touch it or reach for it; call the line's operator.";
    InATree {} => "It may be in a tree: do not climb, and do not throw or poke at it near wires.";
    MayHangInATree { of_ten: usize } =>
        "It may hang in a tree (about {of_ten} of 10 flights like this): look up, do not climb, and do not throw or poke at it near wires.";
    MayLieOnARoof { of_ten: usize } =>
        "It may lie on a roof (about {of_ten} of 10 flights like this): ask the people there, and do not climb.";
    WindAboveCode { wind_mps: f64 } =>
        "A reading of {wind_mps} is above 20 mph, the most the model rocket safety code launches in.";
    AskIfTheRangeIsClosed {} =>
        "On a club's field ask whether the range is closed before anyone walks out on it.";
    MindTheGround {} =>
        "Watch for traffic, wires and water; ask before you enter other people's land. Local rules and the club's safety officer come first.";
    StopHere { what: Box<Sentence>, advice: Box<Sentence> } => "Stop here: {what} lies ahead; {advice}.";
    StopAtTheEdge {} =>
        "Stop here: this is the edge of the field; ask whose land lies beyond before you go on.";
    OutsideTheField {} => "This is outside the field: ask whose land it is.";
    Called { what: Box<Sentence>, name: String } => "{what} ({name})";
    TheRoad {} => "the road";
    TheRailway {} => "the railway";
    ThePowerLine {} => "the power line";
    TheWater {} => "the water";
    TheTrees {} => "the trees";
    TheBuildings {} => "the buildings";
    TheCrop {} => "the crop";
    TheAnimals {} => "the animals";
    PrivateLand {} => "private land";
    AMarkedHazard {} => "a marked hazard";
    CrossWhereAllowed {} => "look both ways and cross only where it is allowed; keep children back";
    NeverOnTheTracks {} => "never step on the tracks; go round by a crossing or call the railway";
    NeverTouchTheWires {} => "never touch anything hanging from it; keep away and call its operator";
    DoNotWade {} => "do not wade in for a rocket; use the bank";
    DoNotClimb {} => "do not climb; look up from outside first";
    AskThePeopleThere {} => "ask the people there before you go near";
    AskTheFarmer {} => "ask the farmer, and keep to the tramlines";
    AskAboutTheAnimals {} => "ask the owner; do not go in with animals about";
    AskTheOwner {} => "ask the owner first";
    LookFirst {} => "look before you go on";

    // Where it comes to rest.
    MayHaveBeenDragged { least_m: f64, most_m: f64, compass_deg: f64 } =>
        "The open parachute may have dragged it {least_m} to {most_m} towards the {compass_deg}.";
    GroundNotTold {} =>
        "The wind is strong enough for an open parachute to drag it over short grass or hard ground. Nobody said what the ground is like, so this is left out.";
    MayBeGoneFromAClubField { of_ten: usize, count: usize } =>
        "It may be gone: after 1 day on a club field, about {of_ten} of 10." |
        "It may be gone: after {count} days on a club field, about {of_ten} of 10.";
    MayBeGoneFromFarmland { of_ten: usize, count: usize } =>
        "It may be gone: after 1 day on farmland, about {of_ten} of 10." |
        "It may be gone: after {count} days on farmland, about {of_ten} of 10.";
    MayBeGoneFromAPublicPlace { of_ten: usize, count: usize } =>
        "It may be gone: after 1 day in a public place, about {of_ten} of 10." |
        "It may be gone: after {count} days in a public place, about {of_ten} of 10.";

    // Why an answer is rough, and what to do first.
    RoughContradicted {} => "Rough: what was told is more than this rocket can do.";
    RoughHardlyFits {} => "Rough: hardly any possible flight fits all that was told.";
    RoughAtOdds {} => "Rough: what was told does not go together.";
    RoughUnseen { known: Box<Sentence> } => "Rough: {known}, and nobody told where it was seen.";
    MotorAndWindKnown {} => "only motor and wind are known";
    MotorKnown {} => "only the motor is known";
    WindKnown {} => "only the wind is known";
    NeitherKnown {} => "neither motor nor wind is known";
    RoughWide { long_m: f64 } => "Rough: it may lie anywhere within {long_m}.";
    LookAgain {} => "First check which way and when you saw it: stand where you stood then, and point again.";
    TellWhereSeen {} => "First tell where you last saw it, or ask who did.";
    AskAround {} => "First ask who else saw it: a second direction helps most.";

    // Why nobody should set out yet.
    NotSettled {} => "It is still being worked out, and the place may yet move far.";
    TooFarToBe { distance_m: f64, reach_m: f64 } =>
        "The place is {distance_m} from the pad, and no model rocket should come down farther than {reach_m}: something told is wrong. Check which way, when, and from where it was seen.";

    // What limits an answer.
    ContradictsEverything {} =>
        "What was told contradicts everything this rocket can do: the map shows what was expected before it.";
    TooFewDraws { draws: usize, wanted: usize } =>
        "Rough: only {draws} possible flights fit all that was told, {wanted} are wanted. Check what was seen, when, and which way.";
    ContradictOneAnother {} =>
        "Several things told contradict one another: check times, directions and which rocket it was.";
    StillAloft { share_aloft: f64 } =>
        "{share_aloft} of the possible flights were still in the air after 15 minutes.";
    NoWindReading {} => "No wind reading: the whole climate of flying days is allowed for.";
    WindsAloftUnused { count: usize } =>
        "{count} of the winds aloft lack a speed or a direction and are not used.";
    DayUnknown {} =>
        "The day of the flight is not known: compass directions are turned with the magnetic model of mid 2027.";
    BeforeTheMagneticModel { year: String } =>
        "The magnetic model covers 2025 to 2029, not {year}: compass directions are turned with its value at the start of 2025, a few tenths of a degree off for every year.";
    AfterTheMagneticModel { year: String } =>
        "The magnetic model covers 2025 to 2029, not {year}: compass directions are turned with its value at the end of 2029, a few tenths of a degree off for every year.";
    NotTurnedToTrueNorth { why: String } => "Compass directions could not be turned to true north: {why}.";
    MotorUnknown {} => "The motor is not known: anything from A to E may have lifted it.";
    BoosterDevice {} => "The booster's own recovery device is taken to open at staging.";
    DownwindUnused {} => "Left or right of downwind is not used until someone says where the wind blew.";
    AreaUnread { piece: usize } => "The area told as number {piece} could not be read and is not used.";
    GustUnused {} =>
        "A gust told beside a mean wind is kept, but not used: gusts as usual in such a wind are allowed for.";
    SearchUnused {} => "Ground searched in vain is kept, but this version does not use it yet.";
    BeaconUnused {} => "The beacon is kept, but this version does not use it yet.";

    // What earlier flights taught.
    Flights { count: usize } => "1 flight" | "{count} flights";
    ComesDownFaster { rocket: String, percent: f64, from: Box<Sentence> } =>
        "{rocket} comes down about {percent} faster than its size suggests, from {from}.";
    ComesDownSlower { rocket: String, percent: f64, from: Box<Sentence> } =>
        "{rocket} comes down about {percent} slower than its size suggests, from {from}.";
    WeighsMore { rocket: String, percent: f64, from: Box<Sentence> } =>
        "{rocket} weighs about {percent} more than stated, from {from}.";
    WeighsLess { rocket: String, percent: f64, from: Box<Sentence> } =>
        "{rocket} weighs about {percent} less than stated, from {from}.";
    MeetsMoreDrag { rocket: String, percent: f64, from: Box<Sentence> } =>
        "{rocket} meets about {percent} more drag on the way up than its shape suggests, from {from}.";
    MeetsLessDrag { rocket: String, percent: f64, from: Box<Sentence> } =>
        "{rocket} meets about {percent} less drag on the way up than its shape suggests, from {from}.";
    PushesHarder { motor: String, percent: f64, from: Box<Sentence> } =>
        "{motor} motors push about {percent} harder than their name says, from {from}.";
    PushesLessHard { motor: String, percent: f64, from: Box<Sentence> } =>
        "{motor} motors push about {percent} less hard than their name says, from {from}.";
    LongerDelay { motor: String, percent: f64, from: Box<Sentence> } =>
        "The delay of {motor} motors is about {percent} longer than printed, from {from}.";
    ShorterDelay { motor: String, percent: f64, from: Box<Sentence> } =>
        "The delay of {motor} motors is about {percent} shorter than printed, from {from}.";
    PointsTooFarRight { phone: String, heading_deg: f64, from: Box<Sentence> } =>
        "{phone} points {heading_deg} degrees too far right, from {from}.";
    PointsTooFarLeft { phone: String, heading_deg: f64, from: Box<Sentence> } =>
        "{phone} points {heading_deg} degrees too far left, from {from}.";
    PointsTooHigh { phone: String, tilt_deg: f64, from: Box<Sentence> } =>
        "{phone} points {tilt_deg} degrees too high, from {from}.";
    PointsTooLow { phone: String, tilt_deg: f64, from: Box<Sentence> } =>
        "{phone} points {tilt_deg} degrees too low, from {from}.";
    WindOfToday { count: usize } =>
        "The wind is also known from today's flight." | "The wind is also known from today's {count} flights.";
    OpensMoreOften { rocket: String, of_twenty: usize, usual: usize, from: Box<Sentence> } =>
        "The recovery device of {rocket} opens in {of_twenty} of 20 flights like this, more than the usual {usual}, from {from}.";
    OpensLessOften { rocket: String, of_twenty: usize, usual: usize, from: Box<Sentence> } =>
        "The recovery device of {rocket} opens in {of_twenty} of 20 flights like this, less than the usual {usual}, from {from}.";

    // What is refused, and what is allowed.
    OutOfRange { value: f64, low: f64, high: f64, unit: String } =>
        "{value} is out of range: allowed is {low} to {high}{unit}";
    NoDesignation { written: String, reason: Box<Sentence> } =>
        "\"{written}\" is no motor designation: {reason}";
    ClassComesFirst {} => "it starts with its class: 1/8A, 1/4A, 1/2A, A, B, C, D, E, F or G, as in C6-5";
    ThrustOutOfRange { newtons: f64 } => "mean thrust {newtons}: allowed is 0.5 to 500 N";
    ThrustComesSecond {} => "the class is followed by the mean thrust in newtons, as in C6-5";
    DelayOutOfRange { seconds: f64 } => "delay {seconds}: allowed is 0 to 30 s";
    DelayComesLast {} =>
        "after the mean thrust comes a delay in seconds or P for plugged, as in C6-5 or C6-P";
    GustBelowMean { gust_mps: f64, mean_mps: f64 } => "gusts of {gust_mps} are below the mean wind, {mean_mps}";
    HoleTooWide { hole_mm: f64, canopy_mm: f64 } => "{hole_mm} is not smaller than the parachute, {canopy_mm}";
    WindNeeded {} => "say where the wind goes or how strong it is, for there is no earlier reading today";
    NameNeeded {} => "a name is needed";
    NameLength { most: usize } => "a name of 1 to {most} characters is needed";
    PadTwice { name: String } => "there is a pad \"{name}\" on this field already: each needs its own name";
    NoSuchPad { name: String } => "no pad \"{name}\" on this field";
    NameTwice { name: String } => "\"{name}\" is the name of two stages or parts: each needs its own";
    NotAPlace { latitude: f64, longitude: f64 } =>
        "({latitude}, {longitude}) is no place: latitude -90 to 90 and longitude -180 to 180 are allowed";
    NoSuchPart { part: String } => "no part \"{part}\"";
    WhichPart { part: String, parts: Vec<String> } => "which part of \"{part}\" was found? {parts}";
    NoFlightInDay { flight: String } => "no flight \"{flight}\" in this field day";
    NoFlightInLogbook { flight: String } => "no flight \"{flight}\" in this logbook";
    NoRocketInLogbook { rocket: String } => "no rocket \"{rocket}\" in this logbook";
    NoFieldInLogbook { site: String } => "no field \"{site}\" in this logbook";
    NoLogbookOpen {} => "no logbook is open: name its folder";
    NoFieldDayOpen {} => "no field day is open: name a folder of flight files";
    UnreadableAt { line: usize, column: usize } =>
        "unreadable at line {line}, column {column}: perhaps it is cut off, or a file of another kind";
    NotReadAt { line: usize, name: String, why: Box<Sentence> } => "line {line}, {name}: {why}";
    NotRead { name: String, why: Box<Sentence> } => "{name}: {why}";
    FileTooLarge { mb: usize, most_mb: usize } => "it has {mb} MB; allowed are {most_mb} MB";
    NothingInFile { why: Box<Sentence> } => "there is nothing in it that can be taken here: {why}";
    OfAnotherFormat { wanted: String } => "not of the format {wanted}";
    NeitherPlaceNorSeen {} => "neither a place nor what another phone saw";
    TooMuchAtOnce { count: usize, most: usize } => "{count} at once: allowed are {most}";
    OutsideTheModel {} => "no possible flight of it could be computed: check motor, mass and sizes";
    ShapesLeftOut { count: usize } =>
        "1 shape in the file is of no kind that can be marked" |
        "{count} shapes in the file are of no kind that can be marked";
    PointsCutOff { count: usize } =>
        "1 point or ring is not in the file, which cuts the map at its edge" |
        "{count} points or rings are not in the file, which cuts the map at its edge";
    LogbookReadOnly {} =>
        "The logbook cannot be written: allow writing in its folder, or name another folder; nothing was changed.";
    LogbookFull {} =>
        "The disk is full: free some space and note it again; what was confirmed before is kept.";
    LogbookBusy {} => "Another program is writing the logbook: wait for it or close it, then try again.";
    LogbookDamaged {} => "The logbook's file is damaged; nothing was changed. Put its newest backup in its place.";
    LogbookDamagedNoBackup {} =>
        "The logbook's file is damaged; nothing was changed, and there is no backup beside it.";
    LogbookNewer {} => "The logbook was written by a newer program; nothing was changed. Use the newer program.";
    LogbookNoBackup {} => "No backup of the logbook could be made, so nothing was changed.";
    LogbookNeedsNoBackup {} => "The logbook is whole, or no other file would mend it: it stays as it is.";
    NotesUnreadable { count: usize } =>
        "1 note is unreadable or corrects one that is not there" |
        "{count} notes are unreadable or correct one that is not there";
    PhotosMissing { count: usize } =>
        "1 photo is missing or is not what it was" | "{count} photos are missing or are not what they were";
    ListsWrong {} => "Some lists are not what the notes say; the notes themselves are whole.";
    ArchiveAltered {} => "The file was cut off or altered; nothing of it is taken.";
    UnknownFile { name: String } =>
        "\"{name}\" is no file that is read here: allowed are .jsonl, .json, .gpx, .geojson, .kml and .csv";
    PictureInLine {} => "they lie in one line; add one well to the side of it";
    PictureMirrored {} => "the picture would be turned over, as in a mirror; two of them are mixed up";
    PictureContradicts { miss_m: f64, spread_m: f64 } =>
        "they miss their places by {miss_m} where they are {spread_m} apart; one of them is wrong";
    NothingToSend {} => "nothing was seen of this flight that could be sent";
    WrongToken {} => "open the address that `windfall serve` printed";
    OnlyThisMachine {} => "only for pages of this address on this machine";
    ADefect {} => "A defect of this program, please report it.";

    // What is wrong in a file.
    MissingHere {} =>
        "missing, but it is needed";
    MissingOf { allowed: String } =>
        "missing; allowed: {allowed}";
    NotANumber { written: String, low: f64, high: f64 } =>
        "\"{written}\" is no number; allowed is {low} to {high}, with a decimal point";
    NumberBeyond { number: f64, low: f64, high: f64 } =>
        "{number} is out of range; allowed is {low} to {high}, with a decimal point";
    NumberWithPoint { written: String } =>
        "\"{written}\" is no number; allowed is one with a decimal point";
    NumberAsIn { written: String } =>
        "\"{written}\" is no number as these links have it: digits, a point, digits";
    NumberNeeded {} =>
        "a number is needed";
    NotATime { written: String } =>
        "\"{written}\" is no time; allowed is one as in 2026-05-16T09:22:10Z";
    OneOfThese { written: String, allowed: String } =>
        "\"{written}\"; allowed: {allowed}";
    TextNeeded { written: String } =>
        "{written}; a text is needed";
    ListNeeded {} =>
        "a list is needed";
    ListOfAtLeast { least: usize } =>
        "a list of at least {least} is needed";
    PartNeeded {} =>
        "empty; the name of a part is needed";
    NotAsMany { times: usize, places: usize } =>
        "times: {times}, places: {places}; as many of both are needed";
    AsManyAsPlaces {} =>
        "as many as there are coordinates are needed";
    LineTooShort {} =>
        "a line has at least 2 positions";
    RingNotClosed {} =>
        "a ring has at least 4 positions, and its last repeats its first";
    OnePosition { positions: usize } =>
        "positions: {positions}; a point has one";
    PositionNumbers { numbers: usize } =>
        "numbers: {numbers}; allowed are longitude, latitude and a height, with decimal points";
    LinkNumbers { numbers: usize } =>
        "numbers: {numbers}; allowed are latitude, longitude and a height";
    NoOuterEdge {} =>
        "it has no outerBoundaryIs";
    OuterElement { found: String, allowed: String } =>
        "the outermost element is <{found}>; allowed is <{allowed}>";
    ColumnMissing { found: String, allowed: String } =>
        "missing from the first line, \"{found}\"; allowed are {allowed}, separated by commas";
    NoSuchColumn { allowed: String } =>
        "no such column; allowed are {allowed}";
    HeightAboveGround {} =>
        "heights above the ground are needed (height_m or height_ft): take off the height of the pad";
    SaidAlready { name: String } => "{name} says the same already";
    HeightNeeded {} =>
        "empty or missing; the height above the ground is needed";
    NoRow {} =>
        "no row below the first line";
    WindOrAir {} =>
        "allowed are wind and air, as a flight file has them";
    NeitherWindNorAir {} =>
        "neither wind nor air is there";
    MergedNotRead {} =>
        "a whole logbook is merged, not read as one flight";
    MapIntoField {} =>
        "a map is read into a field, not into a flight";
    NotAGeoLink { written: String } =>
        "\"{written}\" does not begin with geo:";
    NoParameterName { written: String } =>
        "\"{written}\" is no name; allowed are letters, digits and -";
    FirstOrNotAtAll {} =>
        "it comes first or not at all";
    OnceBeforeOthers {} =>
        "it comes once, before all parameters but crs";
    NotPercentEncoded { written: String } =>
        "\"{written}\" is not percent-encoded UTF-8, which is allowed";
    NoPictureNoTiles {} =>
        "no JPEG, no PNG and no MBTiles file";
    NoTiles {} =>
        "there is none";
    ZoomBeyond { zoom: f64, most: f64 } =>
        "{zoom}; allowed are 0 to {most}";
    TableUnreadable {} =>
        "this table is missing or cannot be read";
    TooNear { distance_m: f64, least_m: f64 } =>
        "it is {distance_m} away: point at something {least_m} away or farther";
    SunTooLow { least_deg: f64 } =>
        "the sun is less than {least_deg} degrees high, too low for a shadow to go by: point at a landmark on the map instead";
    SunTooHigh { most_deg: f64 } =>
        "the sun is more than {most_deg} degrees high and your shadow too short: point at a landmark on the map instead, or wait until the sun is lower";
    AtTheSun {} =>
        "that is nearly where the sun stands, and into the sun nobody may look: turn your back to it and point along your shadow";
    UnknownKeyNear { near: String } =>
        "unknown key; did you mean {near}?";
    UnknownKeyOf { allowed: String } =>
        "unknown key; allowed: {allowed}";
    UnknownWordNear { word: String, near: String, allowed: String } =>
        "unknown word \"{word}\"; did you mean {near}? allowed: {allowed}";
    GeometryNeeded {} =>
        "a GeoJSON geometry is needed";
    PositionNeeded {} =>
        "a position is [longitude, latitude] in degrees";
    MotorNeeded {} =>
        "a designation as in \"C6-5\", or an object that holds one, is needed";

    // What only the terminal's language has words for.
    Untold { words: String } => "{words}";
}

impl From<String> for Sentence {
    fn from(words: String) -> Self {
        Self::Untold { words }
    }
}

impl From<&str> for Sentence {
    fn from(words: &str) -> Self {
        Self::Untold { words: words.into() }
    }
}

impl From<NotAPosition> for Sentence {
    fn from(it: NotAPosition) -> Self {
        Self::NotAPlace { latitude: it.lat_deg, longitude: it.lon_deg }
    }
}

impl Sentence {
    /// Box for a sentence inside another.
    #[must_use]
    pub fn inside(self) -> Box<Self> {
        Box::new(self)
    }

    /// Name and English words of every sentence as the message catalogue writes them, the one and the many apart by a bar.
    #[cfg(any(test, feature = "typescript"))]
    pub(crate) fn english() -> impl Iterator<Item = (String, String)> {
        ENGLISH.iter().map(|(name, words)| {
            let mut key = String::new();
            for letter in name.chars() {
                if letter.is_uppercase() && !key.is_empty() {
                    key.push('_');
                }
                key.extend(letter.to_lowercase());
            }
            (key, words.join("|"))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_is_spoken_in_metres_and_rounded_as_a_landing_is_known() {
        let why = Sentence::Why {
            how: Sentence::ItOpened {}.inside(),
            p_how: 0.937,
            apogee_m: 231.4,
            in_the_air_s: 64.8,
            way: Sentence::CameDownFar { distance_m: 42.4, compass_deg: 52.0 }.inside(),
        };
        assert_eq!(
            why.to_string(),
            "Most likely its recovery device opened as planned (94 %): it rose to about 230 m, was 65 s in the air, and came down about 40 m north-east of the pad."
        );
    }

    #[test]
    fn a_chance_is_never_said_to_be_none_or_certain() {
        assert_eq!([0.0, 0.504, 1.0].map(chance), ["under 1 %", "50 %", "over 99 %"]);
    }

    #[test]
    fn one_is_spoken_of_as_one() {
        let facts = |tracks, readings| Sentence::RestsOn {
            facts: vec![
                Sentence::Sightings { count: 1 },
                Sentence::Tracks { count: tracks },
                Sentence::WindReadings { count: readings },
            ],
        };
        assert_eq!(facts(1, 2).to_string(), "This rests on 1 sighting, 1 track and 2 wind readings.");
        assert_eq!(facts(0, 1).to_string(), "This rests on 1 sighting, 0 tracks and 1 wind reading.");
    }

    #[test]
    fn what_is_not_known_leaves_no_gap() {
        let off = |by, when| Sentence::SightingOff { what: Sentence::WhenLastSeen {}.inside(), by, when };
        let by = Some(Sentence::ByObserver { observer: "Ada".into() }.inside());
        let when = Some(Sentence::AtTime { t_s: 41.2 }.inside());
        assert!(off(by, when).to_string().starts_with("The sighting when last seen by Ada at 41 s does not"));
        assert!(off(None, None).to_string().starts_with("The sighting when last seen does not"));
    }

    #[test]
    fn every_sentence_has_a_name_of_its_own_and_comes_back_from_json() {
        let mut keys: Vec<String> = Sentence::english().map(|row| row.0).collect();
        assert!(keys.len() > 100 && keys.contains(&"came_down_far".to_owned()), "{keys:?}");
        keys.dedup();
        assert_eq!(keys.len(), ENGLISH.len());
        let said =
            Sentence::OnTheWayTo { part: "upper".into(), caution: Sentence::StopAtTheEdge {}.inside() };
        let json = serde_json::json!({"say": "on_the_way_to", "part": "upper", "caution": {"say": "stop_at_the_edge"}});
        assert_eq!(serde_json::to_value(&said).unwrap(), json);
        assert_eq!(serde_json::from_value::<Sentence>(json).unwrap(), said);
    }
}
