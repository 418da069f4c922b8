using System.Buffers.Binary;
using System.Text.Unicode;

namespace Traceability.Service.Features.Attachments;

/// <summary>What a content is, measured by one type of file.</summary>
internal enum FileForm
{
    /// <summary>Something else.</summary>
    Other,

    /// <summary>A file of the type that was cut, or was made longer.</summary>
    Cut,

    /// <summary>A whole file of the type.</summary>
    Whole,
}

/// <summary>Whether a content is a whole file of a type, by its beginning, its end and what it says of its own length.</summary>
internal static class FileForms
{
    private const byte Marker = 0xFF;
    private const byte StartOfScan = 0xDA;

    private static ReadOnlySpan<byte> PngBegin => [0x89, 0x50, 0x4E, 0x47, 0x0D, 0x0A, 0x1A, 0x0A];

    // An IEND chunk: no length, its name, its checksum.
    private static ReadOnlySpan<byte> PngEnd => [0, 0, 0, 0, 0x49, 0x45, 0x4E, 0x44, 0xAE, 0x42, 0x60, 0x82];

    private static ReadOnlySpan<byte> JpegBegin => [Marker, 0xD8, Marker];

    private static ReadOnlySpan<byte> JpegEnd => [Marker, 0xD9];

    /// <summary>PNG: signature, then chunks up to IEND. Source: ISO/IEC 15948, clauses 5.2, 5.3 and 11.2.5.</summary>
    public static FileForm OfPng(ReadOnlySpan<byte> content)
    {
        if (!content.StartsWith(PngBegin))
        {
            return FileForm.Other;
        }

        for (var rest = content[PngBegin.Length..]; rest.Length >= PngEnd.Length;)
        {
            if (rest.StartsWith(PngEnd))
            {
                return rest.Length == PngEnd.Length ? FileForm.Whole : FileForm.Cut;
            }

            var length = BinaryPrimitives.ReadUInt32BigEndian(rest) + 12L;
            if (length > rest.Length)
            {
                break;
            }

            rest = rest[(int)length..];
        }

        return FileForm.Cut;
    }

    /// <summary>JPEG: markers up to the first scan, and an end of image after it. Cameras append things behind that end. Source: ITU-T T.81, annex B.</summary>
    public static FileForm OfJpeg(ReadOnlySpan<byte> content)
    {
        if (!content.StartsWith(JpegBegin))
        {
            return FileForm.Other;
        }

        for (var rest = content[2..]; rest.Length >= 4 && rest[0] == Marker;)
        {
            if (rest[1] == StartOfScan)
            {
                return rest.IndexOf(JpegEnd) >= 0 ? FileForm.Whole : FileForm.Cut;
            }

            // A marker may be preceded by any number of fill bytes.
            var length = rest[1] == Marker ? 1 : 2 + BinaryPrimitives.ReadUInt16BigEndian(rest[2..]);
            if (length > rest.Length)
            {
                break;
            }

            rest = rest[length..];
        }

        return FileForm.Cut;
    }

    /// <summary>WebP: a RIFF file of that form, of the length that it says. Source: RFC 9649, section 2.3.</summary>
    public static FileForm OfWebP(ReadOnlySpan<byte> content)
    {
        if (content.Length < 12 || !content.StartsWith("RIFF"u8) || !content[8..].StartsWith("WEBP"u8))
        {
            return FileForm.Other;
        }

        return BinaryPrimitives.ReadUInt32LittleEndian(content[4..]) + 8L == content.Length ? FileForm.Whole : FileForm.Cut;
    }

    /// <summary>PDF: the header first, the end-of-file marker last. Source: ISO 32000-2, clauses 7.5.2 and 7.5.5; readers look for the marker in the last 1,024 bytes (common practice).</summary>
    public static FileForm OfPdf(ReadOnlySpan<byte> content) =>
        !content.StartsWith("%PDF-"u8) ? FileForm.Other
        : content[^Math.Min(content.Length, 1_024)..].IndexOf("%%EOF"u8) >= 0 ? FileForm.Whole
        : FileForm.Cut;

    /// <summary>MP4: boxes, the first one the type of the file, that fill it exactly, the film's header and its media data among them. Source: ISO/IEC 14496-12, clauses 4.2 and 4.3.</summary>
    public static FileForm OfMp4(ReadOnlySpan<byte> content)
    {
        if (content.Length < 12 || !content[4..].StartsWith("ftyp"u8))
        {
            return FileForm.Other;
        }

        var hasHeader = false;
        var hasMedia = false;
        var rest = content;
        while (rest.Length >= 8)
        {
            long length = BinaryPrimitives.ReadUInt32BigEndian(rest);
            hasHeader |= rest[4..].StartsWith("moov"u8);
            hasMedia |= rest[4..].StartsWith("mdat"u8);
            if (length == 1 && rest.Length >= 16)
            {
                length = (long)Math.Min(BinaryPrimitives.ReadUInt64BigEndian(rest[8..]), long.MaxValue);
            }

            // A length of nought: up to the end of the file.
            length = length == 0 ? rest.Length : length;
            if (length < 8 || length > rest.Length)
            {
                return FileForm.Cut;
            }

            rest = rest[(int)length..];
        }

        return rest.IsEmpty && hasHeader && hasMedia ? FileForm.Whole : FileForm.Cut;
    }

    /// <summary>Text: UTF-8 (RFC 3629) without control characters but tabs and line breaks. A cut text can't be told from a whole one, but within a character.</summary>
    public static FileForm OfText(ReadOnlySpan<byte> content)
    {
        foreach (var b in content)
        {
            if (b is < 0x20 and not ((byte)'\t' or (byte)'\r' or (byte)'\n') or 0x7F)
            {
                return FileForm.Other;
            }
        }

        return Utf8.IsValid(content) ? FileForm.Whole : FileForm.Other;
    }
}
