using System.Text;

namespace Traceability.Service.Features.MasterData;

/// <summary>Reads a file of master data, YAML or JSON, into facts: all of them, or every error with its place.</summary>
/// <remarks>
/// The format is described in docs/reference/master-data.md. The sections are read in the order sites, stations, defects,
/// items, people, tools, lots, routings, whatever their order in the file, so that the facts can be recorded in the order given.
/// </remarks>
public static class MasterDataFile
{
    /// <summary>Reads a file.</summary>
    /// <param name="utf8">The file; UTF-8, with or without byte order mark.</param>
    /// <param name="isKnown">Whether something that the file names without defining it is known already.</param>
    public static MasterDataReading Read(ReadOnlySpan<byte> utf8, Func<DefinitionKind, string, bool> isKnown)
    {
        ArgumentNullException.ThrowIfNull(isKnown);
        string text;
        try
        {
            text = new UTF8Encoding(encoderShouldEmitUTF8Identifier: false, throwOnInvalidBytes: true).GetString(utf8 is [0xEF, 0xBB, 0xBF, ..] ? utf8[3..] : utf8);
        }
        catch (DecoderFallbackException)
        {
            return Failed(new(string.Empty, 1, 1, "The file is not UTF-8 text."));
        }

        return Read(text, isKnown);
    }

    /// <summary>Reads a text.</summary>
    public static MasterDataReading Read(string text, Func<DefinitionKind, string, bool> isKnown)
    {
        ArgumentNullException.ThrowIfNull(text);
        ArgumentNullException.ThrowIfNull(isKnown);
        var errors = new List<MasterDataError>();

        // YAML takes JSON too, but tabs only as white space between tokens of it; a tab never means anything there.
        var isJson = text.AsSpan().TrimStart().StartsWith("{");
        if (YamlTree.Read(isJson ? text.Replace('\t', ' ') : text, errors) is not { } root)
        {
            return new([], [.. errors]);
        }

        if (root is not PlacedMap map)
        {
            return Failed(new(string.Empty, root.Line, root.Column, "The file must hold sections by name, such as items and routings."));
        }

        var builder = new MasterDataBuilder(map, isKnown);
        builder.Build();
        return new(builder.Facts, builder.Errors);
    }

    private static MasterDataReading Failed(MasterDataError error) => new([], [error]);
}
