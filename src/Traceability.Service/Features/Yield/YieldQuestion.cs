using Traceability.Domain.Primitives;
using Traceability.Service.Http.Querying;

namespace Traceability.Service.Features.Yield;

/// <summary>What a yield is asked about.</summary>
/// <param name="Item">The item.</param>
/// <param name="From">The first day; null: 30 days up to the last.</param>
/// <param name="To">The last day, included; null: the latest that any site is in.</param>
internal sealed record YieldQuestion(ItemNumber Item, DateOnly? From, DateOnly? To)
{
    /// <summary>The most days that a question may span.</summary>
    public const int DaysMax = 3_660;

    /// <summary>How many days a question spans that names no first one.</summary>
    public const int DaysDefault = 30;

    /// <summary>What the cells are told apart by.</summary>
    public ImmutableArray<string> By { get; init; } = [];

    /// <summary>Only this step.</summary>
    public StepCode? Step { get; init; }

    /// <summary>Only this station.</summary>
    public StationCode? Station { get; init; }

    /// <summary>Only this variant.</summary>
    public VariantCode? Variant { get; init; }

    /// <summary>Only this routing revision.</summary>
    public RevisionCode? Revision { get; init; }

    /// <summary>Reads what every yield question has: an item and a period.</summary>
    public static YieldQuestion Read(QueryReader reader)
    {
        var question = new YieldQuestion(reader.RequiredCode<ItemNumber>("item"), reader.Day("from"), reader.Day("to"));
        if (question.From > question.To)
        {
            reader.Note("to", "is before from.");
        }

        return question;
    }
}
