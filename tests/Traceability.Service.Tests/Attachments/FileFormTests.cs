using System.Buffers.Binary;
using System.Collections.Immutable;
using System.Text;
using CsCheck;
using Traceability.Service.Features.Attachments;
using Xunit;

namespace Traceability.Service.Tests.Attachments;

/// <summary>Files of every type, whole, cut anywhere, made longer, and taken for another type. They are made here, byte by byte, by the standards that the code names.</summary>
public sealed class FileFormTests
{
    private static readonly ImmutableDictionary<string, byte[]> Whole = new Dictionary<string, byte[]>(StringComparer.Ordinal)
    {
        ["image/png"] = Png(),
        ["image/jpeg"] = Jpeg(),
        ["image/webp"] = WebP(),
        ["application/pdf"] = Encoding.ASCII.GetBytes("%PDF-1.7\n1 0 obj\n<<>>\nendobj\nstartxref\n0\n%%EOF\n"),
        ["video/mp4"] = [.. Box("ftyp", "isom0000"u8), .. Box("moov", Box("mvhd", [])), .. Box("mdat", [1, 2, 3])],
        ["text/csv"] = Encoding.UTF8.GetBytes("\uFEFFtime,torque\r\n1,1.2\r\n"),
        ["text/plain"] = Encoding.UTF8.GetBytes("Gehäuse gesprungen\tλ 😀\n"),
    }.ToImmutableDictionary();

    public static TheoryData<string> Types => [.. Whole.Keys];

    [Fact]
    public void Every_type_that_is_taken_has_a_file_here() =>
        Assert.Equal(MediaTypes.All.Order(StringComparer.Ordinal), Whole.Keys.Order(StringComparer.Ordinal));

    [Theory]
    [MemberData(nameof(Types))]
    public void A_whole_file_is_taken_and_by_no_other_name(string mediaType)
    {
        Assert.Null(MediaTypes.FaultOf(Whole[mediaType], mediaType));

        // A table is a text, and a text may be a table; the little PDF is text, too.
        var isText = mediaType is "text/csv" or "text/plain" or "application/pdf";
        Assert.All(MediaTypes.All.Where(t => t != mediaType && !(isText && t is "text/csv" or "text/plain")), other => Assert.NotNull(MediaTypes.FaultOf(Whole[mediaType], other)));
    }

    [Theory]
    [InlineData("image/png", 1)]
    [InlineData("image/jpeg", 1)]
    [InlineData("image/webp", 1)]
    [InlineData("application/pdf", 6)]
    [InlineData("video/mp4", 1)]
    public void A_cut_file_is_not_taken_wherever_it_is_cut(string mediaType, int cutMin)
    {
        // A PDF may lose what follows its mark.
        for (var length = 0; length <= Whole[mediaType].Length - cutMin; length++)
        {
            Assert.NotNull(MediaTypes.FaultOf(Whole[mediaType].AsSpan(0, length), mediaType));
        }
    }

    [Theory]
    [InlineData("image/png")]
    [InlineData("image/webp")]
    [InlineData("video/mp4")]
    public void Nothing_can_be_hidden_behind_the_end(string mediaType) =>
        Assert.NotNull(MediaTypes.FaultOf([.. Whole[mediaType], .. "<script>"u8], mediaType));

    [Fact]
    public void A_film_without_its_header_or_with_a_box_of_no_size_is_not_whole()
    {
        Assert.NotNull(MediaTypes.FaultOf([.. Box("ftyp", "isom0000"u8), .. Box("mdat", [])], "video/mp4"));
        byte[] small = [.. Box("ftyp", "isom0000"u8), .. Box("moov", [])];
        BinaryPrimitives.WriteInt32BigEndian(small.AsSpan(16), 7);
        Assert.NotNull(MediaTypes.FaultOf(small, "video/mp4"));

        // A length of nought runs to the end of the file, a long one is in 64 bits.
        byte[] open = [.. Box("ftyp", "isom0000"u8), .. Box("moov", []), 0, 0, 0, 0, .. "mdat"u8, 1, 2];
        Assert.Null(MediaTypes.FaultOf(open, "video/mp4"));
        byte[] wide = [.. Box("ftyp", "isom0000"u8), .. Box("moov", []), 0, 0, 0, 1, .. "mdat"u8, 0, 0, 0, 0, 0, 0, 0, 17, 9];
        Assert.Null(MediaTypes.FaultOf(wide, "video/mp4"));
        Assert.NotNull(MediaTypes.FaultOf(wide.AsSpan(0, wide.Length - 1), "video/mp4"));
    }

    [Theory]
    [InlineData("a\0b")]
    [InlineData("a\u001Bb")]
    [InlineData("a\u007Fb")]
    public void Text_has_no_control_characters(string text) => Assert.NotNull(MediaTypes.FaultOf(Encoding.UTF8.GetBytes(text), "text/plain"));

    [Fact]
    public void Whatever_is_sent_is_taken_or_not_and_never_an_exception() =>
        Gen.Select(Gen.Int[0, 6], Gen.Int[0, 6], Gen.Select(Gen.Int[0, 200], Gen.Byte).Array[0, 4], Gen.Int[0, 200]).Sample(
            (file, type, changes, cut) =>
            {
                byte[] content = [.. Whole[MediaTypes.All[file]]];
                foreach (var (at, value) in changes)
                {
                    content[at % content.Length] = value;
                }

                _ = MediaTypes.FaultOf(content.AsSpan(0, Math.Max(0, content.Length - cut)), MediaTypes.All[type]);
            },
            iter: 20_000);

    private static byte[] Png() => Convert.FromHexString(
        "89504E470D0A1A0A0000000D49484452000000010000000108000000003A7E9B550000000A49444154789C6360000000020001E221BC330000000049454E44AE426082");

    // Start of image, a comment, a frame, a scan with a byte-stuffed FF in its data, end of image.
    private static byte[] Jpeg() => Convert.FromHexString("FFD8FFFE0004" + "4142" + "FFC0000B080001000101011100" + "FFDA0008010100003F00" + "12FF0034" + "FFD9");

    private static byte[] WebP()
    {
        byte[] file = [.. "RIFF\0\0\0\0WEBPVP8L"u8, 4, 0, 0, 0, 0x2F, 0, 0, 0];
        BinaryPrimitives.WriteInt32LittleEndian(file.AsSpan(4), file.Length - 8);
        return file;
    }

    private static byte[] Box(string type, ReadOnlySpan<byte> content)
    {
        byte[] box = [0, 0, 0, 0, .. Encoding.ASCII.GetBytes(type), .. content];
        BinaryPrimitives.WriteInt32BigEndian(box, box.Length);
        return box;
    }
}
