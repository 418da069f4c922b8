using Traceability.Contracts.Attachments;
using Traceability.Service.Http;
using Traceability.Service.Security;

namespace Traceability.Service.Features.Attachments;

/// <summary>Photos and files, stored by their content; facts name them by their hash.</summary>
internal static class AttachmentsFeature
{
    private const string Tag = "Attachments";

    /// <summary>Maps the endpoints.</summary>
    public static IEndpointRouteBuilder MapAttachments(this IEndpointRouteBuilder api)
    {
        api.MapPost("/attachments", PostAttachmentEndpoint.HandleAsync)
            .RequireAuthorization(Policies.Record)
            .WithName("postAttachment")
            .WithTags(Tag)
            .WithSummary("Stores a photo or file")
            .WithDescription("The body is the file itself. Answers 201 with its hash when it is durably stored, 200 when the same content was stored before. The content must be a whole file of the type that Content-Type says; a file name says nothing and is not asked for.")
            .WithBodyLimit(BodyLimit.Attachment)
            .Accepts<IFormFile>(MediaTypes.All[0], [.. MediaTypes.All[1..]])
            .Produces<StoredAttachment>(StatusCodes.Status201Created)
            .Produces<StoredAttachment>()
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status401Unauthorized)
            .ProducesProblem(StatusCodes.Status403Forbidden)
            .ProducesProblem(StatusCodes.Status413PayloadTooLarge)
            .ProducesProblem(StatusCodes.Status415UnsupportedMediaType)
            .ProducesProblem(StatusCodes.Status503ServiceUnavailable);
        api.MapGet("/attachments/{hash}", GetAttachmentEndpoint.HandleAsync)
            .RequireAuthorization(Policies.Read)
            .WithName("getAttachment")
            .WithTags(Tag)
            .WithSummary("Gives a stored photo or file, to be saved")
            .Produces<byte[]>(StatusCodes.Status200OK, MediaTypes.All[0], [.. MediaTypes.All[1..]])
            .ProducesProblem(StatusCodes.Status400BadRequest)
            .ProducesProblem(StatusCodes.Status401Unauthorized)
            .ProducesProblem(StatusCodes.Status403Forbidden)
            .ProducesProblem(StatusCodes.Status404NotFound);
        return api;
    }
}
