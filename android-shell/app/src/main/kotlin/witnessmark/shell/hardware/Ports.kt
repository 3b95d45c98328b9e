package witnessmark.shell.hardware

import android.content.Context
import android.location.Location
import android.os.Build
import android.os.ParcelFileDescriptor
import android.view.View
import java.io.File
import witnessmark.shell.work.Books
import witnessmark.shell.work.Keys
import witnessmark.shell.work.RealBooks

/** Our own viewfinder. `done` and `ready` are told on the main thread: null, or what went wrong. */
interface Viewfinder {
    fun view(context: Context): View
    /** `where` is asked at each picture; none writes no position into it. */
    fun start(where: () -> Location?, ready: (String?) -> Unit)
    fun take(into: File, done: (String?) -> Unit)
    fun stop()
}

/** Sound into a file that is whole up to any moment. */
interface Recorder {
    /** How the file's name ends. */
    val ending: String
    /** False if it cannot. With `feed`, what is recorded can be read from [feed] too. */
    fun start(context: Context, into: File): Boolean
    /** 16 bit, 16 kHz, mono, as it comes in; none where the recogniser has to listen for itself. */
    fun feed(): ParcelFileDescriptor?
    fun stop()
}

/** The platform's recogniser on the device. */
interface Recogniser {
    fun here(context: Context): Boolean
    /** `heard` gets the alternatives, likeliest first; empty if nothing was understood. */
    fun listen(context: Context, phrases: List<String>, sound: ParcelFileDescriptor?, heard: (List<String>) -> Unit)
    fun stop()
}

/** Where the phone is, while somebody wants to know. */
interface Position {
    /** The last fix of the last minutes. */
    fun now(): Location?
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
    /** Asked with whether the words are listened for at the same time. */
    val recorder: (Boolean) -> Recorder = { listening -> if (listening && Build.VERSION.SDK_INT >= 33) WavRecorder() else AacRecorder() },
    val position: (Context) -> Position = { DevicePosition(it) },
    val recogniser: Recogniser = DeviceRecogniser(),
    val speaker: Speaker = DeviceSpeaker(),
    val keys: (Context) -> Keys = { StoreKeys(it) },
    val books: Books = RealBooks,
    val meeting: (Context, String) -> Meeting = { context, tree -> TreeMeeting(context, tree) },
    val today: () -> String = { java.time.LocalDate.now().toString() },
)
