package witnessmark.shell.hardware

import android.content.Context
import android.view.View
import java.io.File
import witnessmark.shell.work.Books
import witnessmark.shell.work.Keys
import witnessmark.shell.work.RealBooks

/** Our own viewfinder. `done` and `ready` are told on the main thread: null, or what went wrong. */
interface Viewfinder {
    fun view(context: Context): View
    fun start(ready: (String?) -> Unit)
    fun take(into: File, done: (String?) -> Unit)
    fun stop()
}

/** Sound into a file that is whole up to any moment. */
interface Recorder {
    /** False if it cannot. */
    fun start(context: Context, into: File): Boolean
    fun stop()
}

/** The platform's recogniser on the device. */
interface Recogniser {
    fun here(context: Context): Boolean
    /** `heard` gets the alternatives, likeliest first; empty if nothing was understood. */
    fun listen(context: Context, phrases: List<String>, sound: File?, heard: (List<String>) -> Unit)
    fun stop()
}

interface Speaker { fun say(context: Context, text: String) }

/** A folder that several people share by any means of their own. */
interface Meeting {
    fun list(): Map<String, Long>
    fun get(name: String, into: File)
    fun put(name: String, from: File)
}

/** Everything that a test plays. */
class Ports(
    val viewfinder: () -> Viewfinder = { CameraViewfinder() },
    val recorder: () -> Recorder = { AacRecorder() },
    val recogniser: Recogniser = DeviceRecogniser(),
    val speaker: Speaker = DeviceSpeaker(),
    val keys: (Context) -> Keys = { StoreKeys(it) },
    val books: Books = RealBooks,
    val meeting: (Context, String) -> Meeting = { context, tree -> TreeMeeting(context, tree) },
    val today: () -> String = { java.time.LocalDate.now().toString() },
)
