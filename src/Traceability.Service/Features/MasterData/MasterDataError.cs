using Traceability.Service.Http.Reading;

namespace Traceability.Service.Features.MasterData;

/// <summary>One thing that is wrong with a master-data file.</summary>
/// <param name="Pointer">Where: a JSON pointer (RFC 6901) into the file, read as JSON.</param>
/// <param name="Line">The line in the file, from 1.</param>
/// <param name="Column">The column in the file, from 1.</param>
/// <param name="Detail">What is wrong and what would be right.</param>
public sealed record MasterDataError(string Pointer, int Line, int Column, string Detail);

/// <summary>One definition of the file as a fact.</summary>
/// <param name="Fact">The fact; its id follows from its content, so the same file again makes the same facts.</param>
/// <param name="Pointer">Where in the file it comes from.</param>
/// <param name="Line">The line, from 1.</param>
/// <param name="Column">The column, from 1.</param>
public sealed record MasterDataFact(ReadFact Fact, string Pointer, int Line, int Column);

/// <summary>What came of reading a file: its facts in the order in which they can be recorded, or every error.</summary>
/// <param name="Facts">The facts; also those of a file with errors, as far as they could be read.</param>
/// <param name="Errors">The errors by line; empty if the file is good.</param>
public sealed record MasterDataReading(ImmutableArray<MasterDataFact> Facts, ImmutableArray<MasterDataError> Errors);

/// <summary>What a file may refer to that it does not define itself.</summary>
public enum DefinitionKind
{
    /// <summary>A site, by its code.</summary>
    Site,

    /// <summary>A station, by its code.</summary>
    Station,

    /// <summary>An item, by its number.</summary>
    Item,

    /// <summary>A person, by the code.</summary>
    Person,

    /// <summary>A revision of a routing, by the item and its own code, joined by "/".</summary>
    Revision,
}
