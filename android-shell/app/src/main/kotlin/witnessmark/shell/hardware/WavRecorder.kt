package witnessmark.shell.hardware

import android.annotation.SuppressLint
import android.content.Context
import android.media.AudioFormat
import android.media.AudioRecord
import android.media.MediaRecorder
import android.os.ParcelFileDescriptor
import android.system.ErrnoException
import android.system.Os
import android.system.OsConstants
import java.io.File
import java.io.FileOutputStream
import java.io.IOException
import java.io.RandomAccessFile
import java.nio.ByteBuffer
import java.nio.ByteOrder

/**
 * Uncompressed sound, since that is what the platform's recogniser takes as a source (API 33): 32 kB a
 * second. The head says a length of zero until it is closed; a killed recording is whole up to its end.
 */
class WavRecorder : Recorder {
    override val ending = "wav"
    private var record: AudioRecord? = null
    private var pipe: Array<ParcelFileDescriptor>? = null
    private var thread: Thread? = null
    @Volatile private var on = false

    @SuppressLint("MissingPermission") // the screen has asked
    override fun start(context: Context, into: File): Boolean = try {
        val least = AudioRecord.getMinBufferSize(RATE, AudioFormat.CHANNEL_IN_MONO, AudioFormat.ENCODING_PCM_16BIT)
        val made = AudioRecord(MediaRecorder.AudioSource.VOICE_RECOGNITION, RATE, AudioFormat.CHANNEL_IN_MONO, AudioFormat.ENCODING_PCM_16BIT, maxOf(least, RATE))
        val out = FileOutputStream(into)
        out.write(head(0))
        val ends = ParcelFileDescriptor.createPipe()
        // A recogniser that reads no more never holds up the recording.
        Os.fcntlInt(ends[1].fileDescriptor, OsConstants.F_SETFL, OsConstants.O_NONBLOCK)
        record = made; pipe = ends; on = true
        made.startRecording()
        thread = Thread({ copy(made, out, ends[1], into) }, "sound").apply { start() }
        made.recordingState == AudioRecord.RECORDSTATE_RECORDING
    } catch (_: IOException) { false } catch (_: ErrnoException) { false } catch (_: RuntimeException) { false }

    override fun feed(): ParcelFileDescriptor? = pipe?.get(0)

    private fun copy(from: AudioRecord, out: FileOutputStream, to: ParcelFileDescriptor, file: File) {
        val buffer = ByteArray(RATE / 5)
        var listened = true
        out.use {
            while (on) {
                val n = from.read(buffer, 0, buffer.size)
                if (n <= 0) break
                try { out.write(buffer, 0, n) } catch (_: IOException) { break } // full: what is there is kept
                if (listened) listened = pass(to, buffer, n)
            }
        }
        to.close()
        try { RandomAccessFile(file, "rw").use { it.write(head((file.length() - HEAD).coerceIn(0, Int.MAX_VALUE - 36L).toInt())) } } catch (_: IOException) { /* the head stays as of a killed one */ }
    }

    private fun pass(to: ParcelFileDescriptor, bytes: ByteArray, n: Int): Boolean = try {
        Os.write(to.fileDescriptor, bytes, 0, n)
        true
    } catch (error: ErrnoException) {
        error.errno == OsConstants.EAGAIN
    } catch (_: IOException) { false }

    override fun stop() {
        on = false
        try { record?.stop() } catch (_: RuntimeException) { /* it never began */ }
        // The last bytes are in the file before the core is told of it.
        thread?.join(2000)
        record?.release()
        pipe?.get(0)?.close()
        record = null; pipe = null; thread = null
    }

    companion object {
        const val RATE = 16_000
        const val HEAD = 44L

        /** RIFF/WAVE, 16 bit, mono (Multimedia Programming Interface and Data Specifications 1.0, from memory). */
        fun head(bytes: Int): ByteArray = ByteBuffer.allocate(HEAD.toInt()).order(ByteOrder.LITTLE_ENDIAN)
            .put("RIFF".toByteArray()).putInt(36 + bytes).put("WAVE".toByteArray())
            .put("fmt ".toByteArray()).putInt(16).putShort(1).putShort(1).putInt(RATE).putInt(RATE * 2).putShort(2).putShort(16)
            .put("data".toByteArray()).putInt(bytes).array()
    }
}
