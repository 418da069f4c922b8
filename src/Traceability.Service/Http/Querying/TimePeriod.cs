using System.Runtime.InteropServices;

namespace Traceability.Service.Http.Querying;

/// <summary>A period of time, its end excluded.</summary>
[StructLayout(LayoutKind.Auto)]
internal readonly record struct TimePeriod(DateTimeOffset From, DateTimeOffset To)
{
    private static readonly TimeSpan DefaultLength = TimeSpan.FromDays(30);

    /// <summary>Reads from and to; without them, the 30 days up to the end, which is now.</summary>
    public static TimePeriod Read(QueryReader reader, DateTimeOffset now)
    {
        var from = reader.Time("from");
        var to = reader.Time("to");
        if (from >= to)
        {
            reader.Note("to", "is not after from.");
        }

        // A period that begins after now has nothing in it yet, which is no fault.
        var end = to ?? (from > now ? from.Value : now);
        return new(from ?? end - DefaultLength, end);
    }
}
