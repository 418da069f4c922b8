using System.Globalization;
using Traceability.Domain.Primitives;

namespace Traceability.Service.Features.Definitions;

/// <summary>Reads which page of a list is asked for.</summary>
internal static class DefinitionQuery
{
    private const int Default = 200;
    private const int Most = 1_000;

    /// <summary>Reads both values; false with every fault.</summary>
    public static bool TryRead(string? limit, string? after, out int count, out Refusal? refusal)
    {
        var faults = new List<Fault>();
        count = Default;
        if (limit is not null && (!int.TryParse(limit, NumberStyles.None, CultureInfo.InvariantCulture, out count) || count is < 1 or > Most))
        {
            faults.Add(new("limit", $"A whole number from 1 to {Most} is expected."));
        }

        if (after is not null && !Codes.TryParse<Code>(after, out _))
        {
            faults.Add(new("after", "Give what the page before said, unchanged."));
        }

        refusal = faults.Count == 0 ? null : new("query-invalid", RefusalKind.Malformed, "The query can't be read. Every fault is listed.", [.. faults]);
        return refusal is null;
    }
}
