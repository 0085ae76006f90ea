"""Make the small tracks beside this file with a general sound library (``pip install soundfile``).

Two short tones in 1.5 s of silence, left at 0.25 s and right at 0.75 s; 44100 frames a second. Run from this
folder; the files are kept, so that tests need no encoder.
"""

import numpy as np
import soundfile

RATE = 44_100


def main() -> None:
    """Write one file of each kind."""
    samples = np.zeros((RATE * 3 // 2, 2))
    t = np.arange(RATE // 20) / RATE
    tone = 0.5 * np.sin(2 * np.pi * 1000 * t) * np.hanning(len(t))
    samples[RATE // 4 : RATE // 4 + len(t), 0] = tone
    samples[RATE * 3 // 4 : RATE * 3 // 4 + len(t), 1] = tone
    soundfile.write("track.flac", samples, RATE, subtype="PCM_16")
    soundfile.write("track.ogg", samples, RATE, format="OGG", subtype="VORBIS")
    soundfile.write("track.mp3", samples, RATE, format="MP3")


if __name__ == "__main__":
    main()
