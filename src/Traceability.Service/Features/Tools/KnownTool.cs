using Microsoft.AspNetCore.Http.HttpResults;
using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Tools;
using Traceability.Service.Http;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Tools;

/// <summary>A tool that an answer is about.</summary>
/// <param name="Tool">Its facts.</param>
/// <param name="Definition">Its description.</param>
/// <param name="UnreadableRecords">How many of its stored records can't be read.</param>
internal sealed record KnownTool(Tool Tool, ToolDefined Definition, int UnreadableRecords)
{
    /// <summary>Reads the tool; null if it was never defined.</summary>
    public static async Task<KnownTool?> FindAsync(NpgsqlConnection connection, ToolNumber number, CancellationToken cancellation)
    {
        var stream = StreamNames.Of(number);
        return (await EventReader.LoadAsync(connection, [stream], cancellation)).TryGetValue(stream, out var facts)
            && References.FoldReadable(stream, facts) is Tool { Definition: { } definition } tool
            ? new(tool, definition, tool.Effective.Count(f => f.Fact is UnreadableFact))
            : null;
    }

    /// <summary>404: the tool was never defined.</summary>
    public static ProblemHttpResult Unknown(string number) =>
        Refusal.At("tool-unknown", RefusalKind.Unknown, "tool", $"Tool {number} is not known. Define it first, or correct the address.").ToProblem();
}
