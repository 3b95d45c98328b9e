package witnessmark.shell

import witnessmark.shell.kit.Host
import witnessmark.shell.kit.Screen
import witnessmark.shell.work.Where

/** Every screen by its word. */
val screens: Map<String, (Host, Where) -> Screen> = mapOf(
    "first" to { host, at -> witnessmark.shell.first.FirstScreen(host, at) },
    "aircraft" to { host, at -> witnessmark.shell.aircraft.AircraftScreen(host, at) },
    "add" to { host, at -> witnessmark.shell.aircraft.AddScreen(host, at) },
    "walk" to { host, at -> witnessmark.shell.walk.WalkScreen(host, at) },
    "order" to { host, at -> witnessmark.shell.walk.OrderScreen(host, at) },
    "stop" to { host, at -> witnessmark.shell.stop.StopScreen(host, at) },
    "notseen" to { host, at -> witnessmark.shell.notseen.NotSeenScreen(host, at) },
    "viewfinder" to { host, at -> witnessmark.shell.viewfinder.ViewfinderScreen(host, at) },
    "voice" to { host, at -> witnessmark.shell.voice.VoiceScreen(host, at) },
    "write" to { host, at -> witnessmark.shell.write.WriteScreen(host, at) },
    "heard" to { host, at -> witnessmark.shell.heard.HeardScreen(host, at) },
    "unplaced" to { host, at -> witnessmark.shell.unplaced.UnplacedScreen(host, at) },
    "place" to { host, at -> witnessmark.shell.place.PlaceScreen(host, at) },
    "more" to { host, at -> witnessmark.shell.more.MoreScreen(host, at) },
    "trouble" to { host, at -> witnessmark.shell.trouble.TroubleScreen(host, at) },
    "finding" to { host, at -> witnessmark.shell.finding.FindingScreenShown(host, at) },
    "findings" to { host, at -> witnessmark.shell.finding.FindingsScreen(host, at) },
    "sight" to { host, at -> witnessmark.shell.finding.SightScreen(host, at) },
    "unchecked" to { host, at -> witnessmark.shell.finding.UncheckedScreen(host, at) },
    "done" to { host, at -> witnessmark.shell.finding.DoneScreen(host, at) },
    "unasked" to { host, at -> witnessmark.shell.finding.UnaskedScreen(host, at) },
    "newfinding" to { host, at -> witnessmark.shell.newfinding.NewFindingScreen(host, at) },
    "zone" to { host, at -> witnessmark.shell.zone.ZoneScreenShown(host, at) },
    "left" to { host, at -> witnessmark.shell.left.LeftScreen(host, at) },
    "again" to { host, at -> witnessmark.shell.again.AgainScreen(host, at) },
    "readings" to { host, at -> witnessmark.shell.readings.ReadingsScreen(host, at) },
    "reading" to { host, at -> witnessmark.shell.readings.ReadingScreen(host, at) },
    "events" to { host, at -> witnessmark.shell.events.EventsScreen(host, at) },
    "event" to { host, at -> witnessmark.shell.events.EventScreen(host, at) },
    "papers" to { host, at -> witnessmark.shell.papers.PapersScreen(host, at) },
    "handover" to { host, at -> witnessmark.shell.handover.HandOverScreen(host, at) },
    "before" to { host, at -> witnessmark.shell.handover.BeforeFlightScreen(host, at) },
    "finished" to { host, at -> witnessmark.shell.handover.FinishedScreen(host, at) },
    "receive" to { host, at -> witnessmark.shell.handover.ReceiveScreen(host, at) },
    "settings" to { host, at -> witnessmark.shell.settings.SettingsScreen(host, at) },
    "measure" to { host, at -> witnessmark.shell.measure.MeasureScreen(host, at) },
    "lay" to { host, at -> witnessmark.shell.lay.LayScreen(host, at) },
)
