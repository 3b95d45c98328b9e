package witnessmark.shell.hardware

import android.content.Context
import android.content.Intent
import android.media.AudioFormat
import android.media.MediaRecorder
import android.os.Build
import android.os.Bundle
import android.os.ParcelFileDescriptor
import android.speech.RecognitionListener
import android.speech.RecognizerIntent
import android.speech.SpeechRecognizer
import android.speech.tts.TextToSpeech
import java.io.File
import java.io.IOException

/** AAC in ADTS frames: every frame stands alone, so a kill loses at most the last one. */
class AacRecorder : Recorder {
    override val ending = "aac"
    override fun feed(): ParcelFileDescriptor? = null
    private var recorder: MediaRecorder? = null

    override fun start(context: Context, into: File): Boolean = try {
        @Suppress("DEPRECATION")
        val made = if (Build.VERSION.SDK_INT >= 31) MediaRecorder(context) else MediaRecorder()
        recorder = made
        made.setAudioSource(MediaRecorder.AudioSource.VOICE_RECOGNITION)
        made.setOutputFormat(MediaRecorder.OutputFormat.AAC_ADTS)
        made.setAudioEncoder(MediaRecorder.AudioEncoder.AAC)
        made.setAudioSamplingRate(16_000)
        made.setAudioEncodingBitRate(48_000)
        made.setOutputFile(into.path)
        made.prepare()
        made.start()
        true
    } catch (_: IOException) { false } catch (_: RuntimeException) { false }

    override fun stop() {
        try { recorder?.stop() } catch (_: RuntimeException) { /* nothing was recorded: the file is empty and the job is forgotten */ }
        recorder?.release()
        recorder = null
    }
}

/** `SpeechRecognizer` on the device only: what was said is never sent anywhere. */
class DeviceRecogniser : Recogniser {
    private var recogniser: SpeechRecognizer? = null

    override fun here(context: Context) = Build.VERSION.SDK_INT >= 31 && SpeechRecognizer.isOnDeviceRecognitionAvailable(context)

    override fun listen(context: Context, phrases: List<String>, sound: ParcelFileDescriptor?, heard: (List<String>) -> Unit) {
        if (Build.VERSION.SDK_INT < 31) { heard(emptyList()); return }
        val made = SpeechRecognizer.createOnDeviceSpeechRecognizer(context)
        recogniser = made
        made.setRecognitionListener(object : RecognitionListener {
            override fun onResults(results: Bundle) = heard(results.getStringArrayList(SpeechRecognizer.RESULTS_RECOGNITION).orEmpty())
            override fun onError(error: Int) = heard(emptyList())
            override fun onReadyForSpeech(params: Bundle?) = Unit
            override fun onBeginningOfSpeech() = Unit
            override fun onRmsChanged(rms: Float) = Unit
            override fun onBufferReceived(buffer: ByteArray?) = Unit
            override fun onEndOfSpeech() = Unit
            override fun onPartialResults(partial: Bundle?) = Unit
            override fun onEvent(type: Int, params: Bundle?) = Unit
        })
        val ask = Intent(RecognizerIntent.ACTION_RECOGNIZE_SPEECH)
            .putExtra(RecognizerIntent.EXTRA_LANGUAGE_MODEL, RecognizerIntent.LANGUAGE_MODEL_FREE_FORM)
            .putExtra(RecognizerIntent.EXTRA_LANGUAGE, "en")
            .putExtra(RecognizerIntent.EXTRA_MAX_RESULTS, 5)
        if (Build.VERSION.SDK_INT >= 33) {
            ask.putStringArrayListExtra(RecognizerIntent.EXTRA_BIASING_STRINGS, ArrayList(phrases))
            // What is being recorded is the source, so that one microphone serves both.
            if (sound != null) ask.putExtra(RecognizerIntent.EXTRA_AUDIO_SOURCE, sound)
                .putExtra(RecognizerIntent.EXTRA_AUDIO_SOURCE_CHANNEL_COUNT, 1)
                .putExtra(RecognizerIntent.EXTRA_AUDIO_SOURCE_ENCODING, AudioFormat.ENCODING_PCM_16BIT)
                .putExtra(RecognizerIntent.EXTRA_AUDIO_SOURCE_SAMPLING_RATE, WavRecorder.RATE)
        }
        made.startListening(ask)
    }

    override fun stop() { recogniser?.destroy(); recogniser = null }
}

class DeviceSpeaker : Speaker {
    private var voice: TextToSpeech? = null
    override fun say(context: Context, text: String) {
        val made = voice
        if (made != null) { made.speak(text, TextToSpeech.QUEUE_FLUSH, null, "read-back"); return }
        voice = TextToSpeech(context.applicationContext) { status ->
            if (status == TextToSpeech.SUCCESS) voice?.speak(text, TextToSpeech.QUEUE_FLUSH, null, "read-back")
        }
    }
}
