"""Tell how long a sound file says it is, from its first and last bytes, before anything is decoded.

WAV: RIFF chunks. FLAC: STREAMINFO (RFC 9639, section 8.2). Ogg Vorbis: the granule position of the last page
(RFC 3533) over the rate of the first packet. MP3: the Xing or Info header's number of frames, else length
over the bit rate of the first frame, which is an estimate (ISO 11172-3, tables from memory). It only guards
against hours; what was decoded is counted anew.
"""

from __future__ import annotations

import struct

HEAD_BYTES = 1 << 16
_LAYER_3_KBPS = (0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320)
_LAYER_3_KBPS_LOW = (0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160)
_MP3_RATES = (44_100, 48_000, 32_000)


def stated_seconds(head: bytes, tail: bytes, size: int) -> float | None:
    """Return the length in seconds that a file states; None when it states none that is understood.

    Args:
        head, tail: its first and last 64 KiB, or all of it.
        size: its length in bytes.
    """
    try:
        if head[:4] == b"RIFF" and head[8:12] == b"WAVE":
            return _wav(head, size)
        if head[:4] == b"fLaC":
            return _flac(head)
        if head[:4] == b"OggS":
            return _ogg(head, tail)
        return _mp3(head, size)
    except (struct.error, ZeroDivisionError, IndexError, ValueError):
        return None


def _wav(head: bytes, size: int) -> float | None:
    at, rate, frame_bytes, bytes_a_second = 12, 0, 0, 0
    while at + 8 <= len(head):
        name, length = head[at : at + 4], struct.unpack_from("<I", head, at + 4)[0]
        if name == b"fmt ":
            rate, bytes_a_second, frame_bytes = struct.unpack_from("<IIH", head, at + 12)
        elif name == b"data":
            # Either of the two may be wrong; a decoder goes by the frames.
            stated = min(length, size - at - 8)
            return float(max(stated / bytes_a_second, stated / frame_bytes / rate))
        at += 8 + length + length % 2
    return None


def _flac(head: bytes) -> float | None:
    # STREAMINFO is always the first block: 20 bits of rate, 3 of channels, 5 of depth, 36 of samples.
    packed = int.from_bytes(head[18:26], "big")
    samples = packed & ((1 << 36) - 1)
    return samples / (packed >> 44) if samples else None


def _ogg(head: bytes, tail: bytes) -> float | None:
    packet, page = head.find(b"\x01vorbis"), tail.rfind(b"OggS")
    if packet < 0 or page < 0:
        return None
    rate = struct.unpack_from("<I", head, packet + 12)[0]
    return float(struct.unpack_from("<q", tail, page + 6)[0] / rate)


def _mp3(head: bytes, size: int) -> float | None:
    start = 0
    if head[:3] == b"ID3":
        # The length of the tag comes in four bytes of seven bits.
        start = 10 + sum(
            (byte & 0x7F) << shift for byte, shift in zip(head[6:10], (21, 14, 7, 0), strict=True)
        )
    if start and start >= len(head):
        # A picture in the tag hides the sound: so long at least, at the highest bit rate.
        return (size - start) * 8 / (_LAYER_3_KBPS[-1] * 1000)
    for at in range(start, min(start + 4096, len(head) - 4)):
        if head[at] == 0xFF and head[at + 1] & 0xE6 == 0xE2:  # in step, layer 3
            break
    else:
        return None
    version, rate_at, kbps_at = head[at + 1] >> 3 & 3, head[at + 2] >> 2 & 3, head[at + 2] >> 4
    is_first = version == 3
    rate = _MP3_RATES[rate_at] // {3: 1, 2: 2, 0: 4}.get(version, 1)
    for name in (b"Xing", b"Info"):
        tag = head.find(name, at, at + 64)
        if tag >= 0 and head[tag + 7] & 1:
            frames = struct.unpack_from(">I", head, tag + 8)[0]
            return float(frames * (1152 if is_first else 576) / rate)
    kbps = (_LAYER_3_KBPS if is_first else _LAYER_3_KBPS_LOW)[kbps_at]
    return (size - at) * 8 / (kbps * 1000)
